// Put before the page's own script: remembers when oscillators were told to sound, taps what goes to the
// loudspeaker, and notes the moment at which a drawing is marked as sounding.
(() => {
  const ear = { starts: [], marks: [], context: null, tap: null };
  window.ear = ear;
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (when = 0) {
    ear.starts.push({ when, hertz: this.frequency.value, at: this.context.currentTime });
    return start.call(this, when);
  };
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (to, ...rest) {
    if (to instanceof AudioDestinationNode && this.context instanceof AudioContext) {
      ear.context = this.context;
      ear.tap = new AnalyserNode(this.context, { fftSize: 16384, smoothingTimeConstant: 0 });
      connect.call(this, ear.tap);
    }
    return connect.call(this, to, ...rest);
  };
  /** Time of the sound's clock that is at the loudspeaker now, by the browser's own stamp. */
  ear.heard = () => {
    const stamp = ear.context.getOutputTimestamp();
    return stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000;
  };
  /** Loudness in decibels near a frequency, and the frequency of the strongest bin there. */
  ear.loudness = (hertz) => {
    const bins = new Float32Array(ear.tap.frequencyBinCount);
    ear.tap.getFloatFrequencyData(bins);
    const width = ear.context.sampleRate / ear.tap.fftSize;
    const middle = Math.round(hertz / width);
    return Math.max(...bins.slice(middle - 2, middle + 3));
  };
  ear.peak = () => {
    const wave = new Float32Array(ear.tap.fftSize);
    ear.tap.getFloatTimeDomainData(wave);
    return Math.max(...wave.map(Math.abs));
  };
  ear.watch = () => {
    let frame = performance.now();
    let gap = 0; // how long the last frame took, in milliseconds: a busy machine drops frames
    let ahead = 0; // how far the clock of the page is ahead of that of the sound, which a busy machine holds up
    const apart = () => performance.now() / 1000 - ear.heard();
    const tick = (now) => {
      gap = now - frame;
      frame = now;
      ahead = apart();
      requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
    new MutationObserver((changes) => {
      const time = ear.heard();
      const steady = {
        gap: Math.max(gap, document.timeline.currentTime - frame),
        slip: Math.abs(apart() - ahead),
      };
      for (const change of changes) {
        const lit = change.target.classList.contains("verset-now");
        const was = (change.oldValue ?? "").includes("verset-now");
        if (lit && !was) ear.marks.push({ id: change.target.dataset.id, time, ...steady });
      }
    }).observe(document.body, { attributes: true, attributeFilter: ["class"], attributeOldValue: true, subtree: true });
  };
})();
