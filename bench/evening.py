"""The evening in a real browser: a five-minute sequence in real time at the audio graph, and how soon pages answer.

    python -m bench evening [--pace 1] [--answers 30]

Every tone is caught behind the last node of the page's audio graph, sample by sample, and compared with its moment on
the studio's clock. "By hand" is what a printer would use instead: a timer restarted at each step, whose error adds up
(assumed 1 s a step, from memory).
"""

import argparse
import json
import statistics
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

RESULTS = Path(__file__).parent / "results"
TESTS = Path(__file__).parents[1] / "tests"
BY_HAND = 1.0
"""[s] Error of a person restarting a timer, each step (from memory)."""

TAP = """
const catcher = `registerProcessor('catcher', class extends AudioWorkletProcessor {
  constructor() { super(); this.last = -1e9; }
  process(inputs) {
    const heard = inputs[0][0];
    if (heard) for (let n = 0; n < heard.length; n += 1) if (Math.abs(heard[n]) > 0.003) {
      if (currentFrame + n - this.last > 0.04 * sampleRate) this.port.postMessage((currentFrame + n) / sampleRate);
      this.last = currentFrame + n;
    }
    return true;
  }
});`;
window.onsets = [];
const connect = AudioNode.prototype.connect;
const taps = new WeakMap();
AudioNode.prototype.connect = function (to, ...rest) {
  const done = connect.call(this, to, ...rest);
  if (to instanceof AudioDestinationNode && this.context instanceof AudioContext && taps.get(this.context)) {
    connect.call(this, taps.get(this.context));
  }
  return done;
};
window.tap = async (context) => {
  await context.audioWorklet.addModule(URL.createObjectURL(new Blob([catcher], { type: 'text/javascript' })));
  const node = new AudioWorkletNode(context, 'catcher', { numberOfOutputs: 1 });
  node.port.onmessage = (event) => window.onsets.push(event.data);
  connect.call(node, new GainNode(context, { gain: 0 })).connect(context.destination);
  taps.set(context, node);
};
"""

SPEAK = """async () => {
  const bench = await import('/static/evening/bench.js');
  const sound = await import('/static/evening/sound.js');
  await sound.wake();
  await window.tap(sound.audio());
  const plan = bench.live.plan.bind(bench.live);
  bench.live.plan = (cues) => plan(cues.filter((cue) => cue.tone).map((cue) => ({ ...cue, say: [] })));
  await bench.speakHere(true);
}"""

CLOCKS = """async () => {
  const sound = await import('/static/evening/sound.js');
  const studio = await import('/static/evening/studio.js');
  const leads = [];
  for (let n = 0; n < 60; n += 1) {
    leads.push(sound.audio().currentTime - performance.now() / 1000);
    await new Promise((resolve) => setTimeout(resolve, 4));
  }
  const latency = Math.min(sound.audio().outputLatency || sound.audio().baseLatency || 0, 0.3);
  const { offset, error } = studio.clock;
  return { at: sound.audio().currentTime, lead: Math.max(...leads) - latency, offset, error };
}"""
"""Audio time less page time, and studio time less page time [s]."""


def main() -> None:
    """Run it and write ``bench/results/evening.json``."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pace", type=float, default=1.0)
    parser.add_argument("--answers", type=int, default=30)
    asked = parser.parse_args()
    sys.path.insert(0, str(TESTS))
    from evening_bench import Bench

    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder) / "studio", pace=asked.pace)
        begun = time.perf_counter()
        bench.start()
        urllib.request.urlopen(f"{bench.url}/evening").read()
        cold = time.perf_counter() - begun
        try:
            found = {
                "first_page_cold_seconds": round(cold, 2),
                **answers(bench, asked.answers),
                **heard(bench, asked.pace),
            }
        finally:
            bench.stop()
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / "evening.json").write_text(json.dumps(found, indent=1) + "\n")
    for name, value in found.items():
        print(f"{name}: {value}")


def answers(bench, count):
    """Milliseconds that a page and an event take, warm: median and worst."""

    def took(ask):
        times = []
        for _ in range(count):
            begun = time.perf_counter()
            ask().read()
            times.append(1000 * (time.perf_counter() - begun))
        return [round(statistics.median(times), 1), round(max(times), 1)]

    def event():
        body = json.dumps({"kind": "went_wrong", "body": {"note": "x"}, "key": f"{time.monotonic_ns()}"}).encode()
        request = urllib.request.Request(f"{bench.url}/api/evening/events", data=body)
        request.add_header("Content-Type", "application/json")
        return urllib.request.urlopen(request)

    bench.plan()
    return {
        "page_milliseconds_median_worst": took(lambda: urllib.request.urlopen(f"{bench.url}/evening")),
        "wet_page_milliseconds_median_worst": took(lambda: urllib.request.urlopen(f"{bench.url}/evening/wet")),
        "event_milliseconds_median_worst": took(event),
    }


def heard(bench, pace):
    """A whole sequence: how far each tone was from its moment [ms]."""
    import numpy as np
    from playwright.sync_api import sync_playwright

    from printlore.core.evening.process import moments, process_cues

    bench.care()
    bench.in_drum()
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=_chromium(), args=["--no-sandbox", "--autoplay-policy=no-user-gesture-required"]
        )
        page = browser.new_context(bypass_csp=True).new_page()
        page.add_init_script(TAP)
        page.goto(bench.url + "/evening/wet")
        page.evaluate(SPEAK)
        begin = bench.begin(begin=bench.clock.now() + 15 * pace).event.what.begin
        sequence = bench.state().loads["1"].load.sequence
        planned = [begin + cue.at for cue in process_cues(moments(sequence)) if cue.tone]
        clocks = []
        while bench.clock.now() < begin + sequence.time + 2 * pace:
            clocks.append(page.evaluate(CLOCKS))
            page.wait_for_timeout(4000)
        onsets = page.evaluate("window.onsets")
        browser.close()
    leads = [clock["lead"] for clock in clocks]
    offset = statistics.median(clock["offset"] for clock in clocks)
    lead = np.interp(onsets, [clock["at"] for clock in clocks], leads)
    moments_heard = ((np.array(onsets) - lead) * pace + offset).tolist()
    errors = []
    for at in planned:
        nearest = min(moments_heard, key=lambda one: abs(one - at), default=None)
        if nearest is not None and abs(nearest - at) < 0.2 * pace:
            errors.append(1000 * (nearest - at) / pace)
    sizes = sorted(abs(error) for error in errors)
    return {
        "pace": pace,
        "tones_planned": len(planned),
        "tones_heard": len(errors),
        "cue_error_milliseconds_median": round(statistics.median(sizes), 2),
        "cue_error_milliseconds_worst": round(sizes[-1], 2),
        "cue_jitter_milliseconds_sd": round(statistics.pstdev(errors), 2),
        "clock_drift_milliseconds": round(1000 * (leads[-1] - leads[0]), 2),
        "clock_error_milliseconds": round(1000 * clocks[-1]["error"] / pace, 2),
        "by_hand_seconds_at_the_end": round(BY_HAND * len(sequence.steps) ** 0.5, 1),
        "ratio_to_by_hand": round(sizes[-1] / 1000 / (BY_HAND * len(sequence.steps) ** 0.5), 5),
    }


def _chromium():
    import shutil

    return next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


if __name__ == "__main__":
    main()
