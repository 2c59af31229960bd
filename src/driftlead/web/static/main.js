// The page put together. The live link is kept whatever is looked at: an alert must come through.

import { Acting, makeSay } from "./acting.js";
import { Alerts } from "./alerts.js";
import { Api } from "./api.js";
import { Awake } from "./awake.js";
import { byId, memory, part, setData, setHidden, setText } from "./dom.js";
import { Drilled } from "./drilled.js";
import { Glance, showLines, troubles } from "./glance.js";
import { Link } from "./link.js";
import { Look } from "./look.js";
import { Mark } from "./mark.js";
import { Nights } from "./nights.js";
import { Pairing } from "./pairing.js";
import { Picture } from "./picture.js";
import { Planning } from "./planning.js";
import { Scene } from "./scene.js";
import { Slipped } from "./slipped.js";
import { around } from "./shapes.js";
import { Sound } from "./sound.js";
import { age, length, units } from "./units.js";
import { sounds } from "./words.js";

const DROPS = new Set(["let_go", "set_late", "correct_mark"]);
const VIEWS = ["watch", "nights", "device"];

const api = new Api();
const scene = new Scene({ live: true });
const say = makeSay(byId("answer"));
const picture = new Picture(byId("live-picture"), scene);
const nights = new Nights({ api, say });
const sound = new Sound(() => showDevice());
const awake = new Awake(() => showDevice());
const look = new Look(() => {
  picture.redraw();
  nights.picture.redraw();
});
const link = new Link({
  open: (after) => api.stream(after),
  lastId: () => scene.lastId,
  hear: {
    now: (now) => hearNow(now),
    event: (item) => hearEvent(item),
    opened: () => loadBefore(),
    refused: () => lookAtSession(),
    lost: () => showAll(),
    found: () => showAll(),
  },
});
const glance = new Glance(byId("glance"), scene, link);
const alerts = new Alerts(byId("alerts"), {
  acknowledge: () => acting.give("acknowledge"),
  silence: () => acting.give("silence"),
  transfer: (to) => acting.give("transfer", { to }),
});
const drilled = new Drilled(() => api.ask("/drill"));
const slipped = new Slipped(scene);
const mark = new Mark(byId("do-mark"), {
  plot: picture.plot,
  element: picture.plotCanvas,
  scene,
  set: async ({ lat, lon }) => {
    if (await acting.give("move_anchor", { lat, lon })) acting.close();
  },
});
const acting = new Acting({ api, scene, say, mark });
const pairing = new Pairing({ api, say, onPaired: () => begin() });
new Planning({ api, say });

let collection = null;
let surroundingsPlane = null;
let wantsBefore = true;
let announced = "";
let asking = false;

function hearNow(now) {
  if (!api.session) lookAtSession();
  const anew = scene.take(now);
  if (anew || wantsBefore) loadBefore();
  if (scene.plane !== surroundingsPlane) placeSurroundings();
  look.heed(now);
  drilled.show(now);
}

function hearEvent(item) {
  scene.takeEvent(item);
  // What is told by bearing from the drop point has moved with it.
  if (item.event.kind === "state" && DROPS.has(item.event.name)) {
    loadSurroundings().catch(() => (wantsBefore = true));
  }
}

/** Track and events from before this page was opened, or while it was cut off. */
async function loadBefore() {
  wantsBefore = scene.now === null;
  if (wantsBefore) return;
  try {
    const [track, events] = await Promise.all([api.ask("/track"), api.ask("/events")]);
    scene.takeTrack(track);
    if (events.run_id === scene.now.run_id) scene.takeEvents(events.events);
    await loadSurroundings();
  } catch {
    wantsBefore = true;
  }
}

async function loadSurroundings() {
  collection = await api.ask("/surroundings");
  nights.surroundings(collection);
  placeSurroundings();
}

function placeSurroundings() {
  surroundingsPlane = scene.plane;
  scene.surroundings = scene.plane && collection ? around(collection, scene.plane) : [];
  picture.redraw();
}

// -- what is shown ---------------------------------------------------------------------------------

function showAll() {
  const found = glance.show();
  const { now } = scene;
  const paired = api.session?.paired ?? false;
  setData(document.documentElement, "link", link.lost ? "lost" : "live");
  setHidden(byId("lost"), !link.lost || link.barred);
  if (link.lost) setText(byId("lost-age"), age(link.silentS));
  alerts.show(scene.alerts, { paired, now });
  slipped.show();
  acting.show({ paired, lost: link.lost });
  setHidden(byId("invite"), paired || !api.session);
  showLines(byId("troubles"), now && !link.lost ? troubles(now) : []);
  setData(document.documentElement, "watch", now && !now.on_watch ? "off" : "on");
  setText(byId("boat"), now?.boat.name ?? "");
  document.title = title(found);
  announce(found);
  playAlarm();
}

function title(found) {
  if (link.barred) return "driftlead";
  if (link.lost) return "NO WORD – driftlead";
  if (!found) return "driftlead";
  const distance = scene.now.on_watch ? ` ${length(scene.now.distance_m)}` : "";
  const alarm = scene.alerts.some(sounds) ? "ALERT – " : "";
  return `${alarm}${found.word}${distance} – driftlead`;
}

/** Says a change of verdict to screen readers, not each figure. */
function announce(found) {
  const words = link.lost ? "" : found ? `${found.word}.` : "";
  if (words && words !== announced) setText(byId("announcer"), words);
  announced = words || announced;
}

function playAlarm() {
  const heard = scene.alerts.filter(sounds);
  const lostSounds = memory.get("lost-sound", "on") === "on";
  if (link.lost) sound.play(lostSounds && (scene.now?.on_watch ?? false) ? "lost" : null);
  else if (heard.some((alert) => alert.priority === "alarm")) sound.play("alarm");
  else sound.play(heard.length ? "warning" : null);
}

const SOUND_WORDS = {
  off: "The alarm does not sound on this device.",
  ready: "The alarm sounds on this device while this page is open in front.",
  waiting: "The browser waits for a touch before it lets the alarm sound. Touch anywhere.",
  impossible: "This browser cannot sound the alarm.",
};
const AWAKE_WORDS = {
  off: "The screen may go off as the device is set.",
  asking: "The screen is kept on as soon as the browser lets it.",
  on: "The screen stays on while this page is in front.",
  film: "The screen should stay on: a silent film plays for it, as this browser gives no better way here (most want https). It is not certain. Try it out before the night, or set the device's own screen time-out to never.",
  waiting: "This browser does not keep the screen on for the page (most want https for it). Touch anywhere, and a silent film is played, for which most keep it on.",
  impossible: "THE SCREEN WILL GO OFF: this browser does not let the page keep it on (most want https for it). Set the device's own screen time-out to never, and put it on a charger.",
};
const AWAKE_HINTS = {
  film: "The screen should stay on, but it is not certain.",
  waiting: "The screen will go off by itself: touch anywhere to keep it on.",
  impossible: "The screen cannot be kept on from here.",
};

function showDevice() {
  setText(byId("sound-state"), SOUND_WORDS[sound.state]);
  byId("sound-on").checked = sound.wanted;
  setHidden(byId("sound-test"), sound.state !== "ready");
  setHidden(byId("sound-hint"), sound.state === "ready");
  setText(byId("sound-hint-text"), SOUND_WORDS[sound.state]);
  setHidden(byId("sound-allow"), sound.state !== "off");
  const hint = AWAKE_HINTS[awake.state];
  setHidden(byId("awake-hint"), !hint);
  setText(byId("awake-hint-text"), hint ?? "");
  setText(byId("awake-state"), AWAKE_WORDS[awake.state]);
  byId("awake-on").checked = awake.wanted;
  byId("awake-on").disabled = awake.state === "impossible";
}

// -- views and settings ----------------------------------------------------------------------------

function showView() {
  const asked = location.hash.slice(1);
  const view = api.session && !api.session.can_read ? "device" : VIEWS.includes(asked) ? asked : "watch";
  setData(document.documentElement, "view", view);
  for (const name of VIEWS) {
    setHidden(byId(`view-${name}`), name !== view);
    const tab = byId(`to-${name}`);
    if (name === view) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }
  if (view === "nights") nights.list();
  else nights.pause();
  if (view === "device") pairing.list();
  picture.redraw();
}

function choice(name, chosen, choose) {
  for (const input of document.querySelectorAll(`input[name="${name}"]`)) {
    input.checked = input.value === chosen;
    input.addEventListener("change", () => input.checked && choose(input.value));
  }
}

function readSettings() {
  choice("look", look.choice, (value) => look.choose(value));
  choice("units", units.system, (value) => {
    units.choose(value);
    picture.redraw();
    showAll();
  });
  const lostSound = byId("lost-sound");
  lostSound.checked = memory.get("lost-sound", "on") === "on";
  lostSound.addEventListener("change", () => memory.set("lost-sound", lostSound.checked ? "on" : "off"));
  byId("sound-on").addEventListener("change", (event) => sound.allow(event.target.checked));
  byId("sound-allow").addEventListener("click", () => sound.allow(true));
  byId("sound-test").addEventListener("click", () => sound.test());
  byId("awake-on").addEventListener("change", (event) => awake.want(event.target.checked));
}

// -- beginning -------------------------------------------------------------------------------------

async function lookAtSession() {
  if (asking) return;
  asking = true;
  try {
    await api.begin();
  } catch {
    return;
  } finally {
    asking = false;
  }
  link.barred = !api.session.can_read;
  pairing.show();
  showView();
  showAll();
}

async function begin() {
  await lookAtSession();
  pairing.list();
  link.restart();
  showAll();
}

scene.onChange(() => showAll());
setInterval(() => showAll(), 500);
window.addEventListener("hashchange", showView);
part(byId("alerts"), "pair").addEventListener("click", () => (location.hash = "device"));
byId("answer-close").addEventListener("click", () => setHidden(byId("answer"), true));
readSettings();
showDevice();
showView();
showAll();
link.start();
awake.keep();
lookAtSession();
document.documentElement.dataset.ready = "yes";
