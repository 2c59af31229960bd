// For a browser that has no wake lock to give, or none over plain http: a silent film of one black
// dot is played. Most browsers keep the screen on while a film with sound plays in sight.

const FRAMES_PER_S = 1;
const CHANGE_EVERY_MS = 1000;

export class Film {
  constructor(onChange) {
    this.onChange = onChange;
    this.video = null;
  }

  static get isPossible() {
    return "captureStream" in HTMLCanvasElement.prototype && typeof AudioContext !== "undefined";
  }

  get plays() {
    return this.video !== null && !this.video.paused && this.context.state === "running";
  }

  /** Begins, or goes on. Browsers let it only after a touch. */
  async play() {
    if (this.plays) return;
    try {
      this.#make();
      await Promise.all([this.video.play(), this.context.resume()]);
    } catch {
      // Before a touch it is refused; the next one tries again.
    }
    this.onChange();
  }

  stop() {
    if (!this.video) return;
    clearInterval(this.timer);
    for (const track of this.video.srcObject.getTracks()) track.stop();
    this.context.close();
    this.video.remove();
    this.video = null;
    this.onChange();
  }

  #make() {
    if (this.video) return;
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [16, 16];
    const pen = canvas.getContext("2d");
    let dark = 0;
    // A picture that never changes is no film.
    const draw = () => {
      dark = 1 - dark;
      pen.fillStyle = dark ? "#000" : "#010000";
      pen.fillRect(0, 0, 16, 16);
    };
    draw();
    this.timer = setInterval(draw, CHANGE_EVERY_MS);
    // One without a sound track is taken for an ornament, and the screen goes off over it.
    this.context = new AudioContext();
    const silence = this.context.createConstantSource();
    const [none, sink] = [this.context.createGain(), this.context.createMediaStreamDestination()];
    none.gain.value = 0;
    silence.connect(none).connect(sink);
    silence.start();
    const video = document.createElement("video");
    video.className = "film";
    video.setAttribute("playsinline", "");
    video.setAttribute("aria-hidden", "true");
    video.tabIndex = -1;
    video.disablePictureInPicture = true;
    video.srcObject = new MediaStream([...canvas.captureStream(FRAMES_PER_S).getTracks(), ...sink.stream.getTracks()]);
    for (const kind of ["playing", "pause"]) video.addEventListener(kind, this.onChange);
    document.body.append(video);
    this.video = video;
  }
}
