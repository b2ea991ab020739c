// The pianos that are connected to this computer, by Web MIDI (W3C).

const KINDS = [0x80, 0x90, 0xb0]; // a key goes up or down, a pedal is moved

export class Ports {
  // onchange(): a piano comes or goes; onmessage({port, data, timeStamp})
  constructor(onchange, onmessage) {
    this.onchange = onchange;
    this.onmessage = onmessage;
    this.access = null;
  }

  get isOpen() {
    return this.access !== null;
  }

  get inputs() {
    return this.access ? [...this.access.inputs.values()].filter(({ state }) => state !== "disconnected") : [];
  }

  // Ask for them; says what stands in the way, else null.
  async open() {
    if (!navigator.requestMIDIAccess) return isSecureContext ? "no_midi" : "not_secure";
    try {
      this.access = await navigator.requestMIDIAccess({ sysex: false });
    } catch (error) {
      return error.name === "NotSupportedError" ? "no_midi" : "not_allowed";
    }
    this.access.addEventListener("statechange", () => {
      this.#listen();
      this.onchange();
    });
    this.#listen();
    return null;
  }

  #listen() {
    for (const input of this.inputs) {
      input.onmidimessage = ({ data, timeStamp }) => {
        if (KINDS.includes(data[0] & 0xf0)) this.onmessage({ port: input.id, data: [...data], timeStamp });
      };
    }
  }
}
