// Lets the theme's search run in a page opened from a disk, where browsers start no workers: its script runs in a
// hidden frame. No script is written into the frame, so that the site's policy lets it run. (Without a file of this
// name the theme fetches one from elsewhere.)
(() => {
  "use strict";
  class FrameWorker extends EventTarget {
    constructor(url) {
      super();
      const frame = document.createElement("iframe");
      frame.hidden = true;
      document.body.appendChild(frame);
      const inside = frame.contentWindow;
      // opened once, the frame's document stays the one that it is
      inside.document.open();
      inside.document.write("<html><body></body></html>");
      inside.document.close();
      const load = (source) =>
        new Promise((done, failed) => {
          const script = inside.document.createElement("script");
          script.onload = done;
          script.onerror = failed;
          script.src = source;
          inside.document.body.appendChild(script);
        });
      inside.importScripts = (...sources) =>
        sources.reduce((before, source) => before.then(() => load(source)), Promise.resolve());
      inside.postMessage = (data) => setTimeout(() => this.tell("message", data));
      this.frame = frame;
      this.ready = load(url).catch(() => this.tell("error"));
    }
    tell(type, data) {
      const event = new MessageEvent(type, { data });
      this.dispatchEvent(event);
      const own = this[`on${type}`];
      if (own) own.call(this, event);
    }
    postMessage(data) {
      const copy = structuredClone(data);
      this.ready.then(() => this.frame.contentWindow.dispatchEvent(new MessageEvent("message", { data: copy })));
    }
    terminate() {
      this.frame.remove();
    }
  }
  window.IFrameWorker = FrameWorker;
  if (location.protocol === "file:") window.Worker = FrameWorker;
})();
