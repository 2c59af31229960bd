// Pairing this device by the PIN that `driftlead pair` shows, and the list of those that are paired.

import { byId, make, setHidden, setText } from "./dom.js";

export class Pairing {
  constructor({ api, say, onPaired }) {
    this.api = api;
    this.say = say;
    const form = byId("pair-form");
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const { pin, name } = form.elements;
      try {
        await api.pair(pin.value, name.value.trim() || "A device");
        pin.value = "";
        say("This device is paired.", "", "good");
        onPaired();
      } catch (refusal) {
        const wait = refusal.retryAfterS ? ` Wait ${refusal.retryAfterS} s.` : "";
        say(refusal.message, refusal.remedy + wait, "bad");
        pin.select();
      }
    });
  }

  show() {
    const session = this.api.session;
    const paired = session?.paired ?? false;
    setHidden(byId("pair-box"), paired || !session);
    setHidden(byId("devices-box"), !paired);
    if (paired) setText(byId("device-name"), `This device is paired as “${session.device.name}”.`);
    setText(byId("version"), session ? `driftlead ${session.version}` : "");
  }

  async list() {
    if (!this.api.session?.paired) return;
    try {
      this.#fill((await this.api.ask("/devices")).devices);
    } catch (refusal) {
      this.say(refusal.message, refusal.remedy, "bad");
    }
  }

  #fill(devices) {
    byId("devices").replaceChildren(
      ...devices.map((device) => {
        const label = device.current ? `${device.name} (this one)` : device.name;
        const button = make("button", { type: "button", class: "small" }, "Unpair");
        button.setAttribute("aria-label", `Unpair ${device.name}`);
        button.addEventListener("click", () => this.#unpair(button, device));
        return make("li", {}, make("span", {}, label), button);
      }),
    );
  }

  async #unpair(button, device) {
    if (button.dataset.sure !== "yes") {
      button.dataset.sure = "yes";
      setText(button, "Really unpair");
      return;
    }
    try {
      const { devices } = await this.api.unpair(device.id);
      if (device.current) location.reload();
      else this.#fill(devices);
    } catch (refusal) {
      this.say(refusal.message, refusal.remedy, "bad");
    }
  }
}
