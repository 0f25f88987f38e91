"""An hour at the bench in some minutes, by hand: python tests/benchmarks/bench_hour.py [--edits 600]

Drives the page in headless Chromium as a hand would, only without pauses: sliders moved and let go, steps switched off
and on, other stills opened, several at once, pinned and filtered; versions kept and compared by every way, marks moved,
warnings, undo, a tuning begun and stopped, one in the middle seen to its end, looked at, taken in part upon an edit made
meanwhile; the page loaded anew; and twice, at a third and at two thirds, the server is killed in the middle (SIGKILL) and
started again, and what was not saved is taken up. After each restart and at the end the recipe and the marks must be what
was done last, and every version must be there with its text. Told over the time: memory of the page (its heap after a
collection), of the whole browser (proportional set size of its processes, textures among them) and of the server
(resident).
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from typing import Any

from bench_page import ROOT, browser, wait_for

LOOK = "night-workshop.toml"
STILLS = ("wide_acescct.png", "close_acescct.png", "insert_acescct.png", "day_acescct.png")

MOVE = """
const [kind, name, share] = arguments;
const card = document.querySelector(`.card[data-kind="${kind}"]`);
if (!card.classList.contains('open')) card.querySelector('.name').click();
const row = [...card.querySelectorAll('.row')].find((r) => r.querySelector('label').textContent === name);
const range = row.querySelector('input[type=range]');
for (const step of [0.3, 0.7, 1]) {
  range.value = Math.round(Number(range.value) + (share * 1000 - Number(range.value)) * step);
  range.dispatchEvent(new Event('input', { bubbles: true }));
}
range.dispatchEvent(new Event('change', { bubbles: true }));
return row.querySelector('input[type=text]').value;
"""
PRESS = """
const one = document.querySelector(arguments[0]);
one.focus();
one.dispatchEvent(new KeyboardEvent('keydown', { key: arguments[1], bubbles: true, cancelable: true }));
"""
COMPARE = """
const second = document.getElementById('show-second');
const all = [...second.options].filter((o) => o.value !== 'now');
second.value = all[arguments[1] % all.length].value;
second.dispatchEvent(new Event('change'));
document.querySelector(`input[name=way][value=${arguments[0]}]`).click();
"""
SEVERAL = """
const many = document.getElementById('many'), filter = document.getElementById('strip-filter');
document.getElementById('pin').click();
many.value = arguments[0];
many.dispatchEvent(new Event('change'));
filter.value = arguments[1];
filter.dispatchEvent(new Event('input', { bubbles: true }));
"""
SLIDERS = (("exposure", "stops"), ("split", "pull"), ("saturation", "amount"), ("saturation", "density"))


def furnish(folder: Path) -> None:
    """The look and the stills with their marks, to be worked on."""
    shutil.copy(ROOT / "looks" / LOOK, folder)
    (folder / "stills").mkdir()
    for name in (*STILLS, "marks.toml"):
        shutil.copy(ROOT / "sample_images" / name, folder / "stills")


class Hour:
    """One look, its bench and its page."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        furnish(folder)
        self.driver = browser(str(folder / "profile"))
        self.random = random.Random(21)
        self.versions: dict[str, str] = {}
        self.lost: list[str] = []
        self.start()

    def start(self) -> None:
        command = [sys.executable, "-m", "lookwright", "bench", str(self.folder / LOOK)]
        command += ["--stills", str(self.folder / "stills"), "--no-open"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.url = self.process.stdout.readline().split()[1]
        self.open()

    def open(self) -> None:
        self.driver.execute_script("addEventListener('beforeunload', (e) => e.stopImmediatePropagation(), true)")
        self.driver.get("about:blank")
        self.driver.get(self.url)
        wait_for(self.driver, "return document.body.dataset.ready === 'true'")

    def js(self, script: str, *arguments: Any) -> Any:
        return self.driver.execute_script(script, *arguments)

    def get(self, path: str) -> dict[str, Any]:
        base, token = self.url.split("#")
        asked = urllib.request.Request(base + "api/" + path, headers={"X-Lookwright-Token": token})
        with urllib.request.urlopen(asked, timeout=60) as answer:
            return dict(json.load(answer))

    def state(self) -> dict[str, Any]:
        return self.get("state")

    def marks(self) -> list[Any]:
        return [self.get(f"still/{i}")["marks"] for i in range(len(STILLS))]

    def settled(self, before: int) -> dict[str, Any]:
        """The state, once it is newer than revision ``before``."""
        limit = time.monotonic() + 60
        while (now := self.state())["revision"] <= before:
            if time.monotonic() > limit:
                raise TimeoutError(f"an edit never arrived; the page says {self.said()!r}")
            time.sleep(0.01)
        return now

    def said(self) -> str:
        """What the page tells its user."""
        return str(self.js("const m = document.getElementById('message'); return m.hidden ? '' : m.innerText"))

    def edit(self, i: int) -> None:
        state = self.state()
        if i % 13 == 7:
            self.js("document.querySelector('.card[data-kind=tones] .on input').click()")
            state = self.settled(state["revision"])
        kind, name = self.random.choice(SLIDERS)
        value = None
        while value is None or f"{kind} {name} {float(value):.4g}" == state["undo"]:
            value = self.js(MOVE, kind, name, self.random.random()).replace("\u2212", "-")
            if value_of(state, kind, name) != float(value):
                state = self.settled(state["revision"])
                break
        if value_of(state, kind, name) != float(value):
            self.lost.append(f"edit {i}: {kind} {name} is {value_of(state, kind, name)}, not {value}")

    def version(self, i: int) -> None:
        text = self.state()["text"]
        self.js(
            "const field = document.querySelector('#versions input[type=text]'); field.value = arguments[0]; "
            "[...document.querySelectorAll('#versions button')].find((b) => b.textContent === 'Keep a version').click()",
            f"after {i}",
        )
        wait_for(
            self.driver,
            f"return !!document.querySelector('#show-second option[value^=version]') && document.getElementById('show-second').textContent.includes('after {i}')",
        )
        self.versions[f"after {i}"] = text

    def mark(self) -> None:
        """A mark moved by a key, as one edit."""
        state = self.state()
        still = int(self.js("return Number(sessionStorage.getItem('still'))"))
        old = self.get(f"still/{still}")["marks"][0]["box"]
        key = "ArrowLeft" if old[0] > 0.3 else "ArrowRight"
        self.js(PRESS, "#overlay .mark", key)
        self.settled(state["revision"])
        new = self.get(f"still/{still}")["marks"][0]["box"]
        if abs(abs(new[0] - old[0]) - 0.004) > 1e-4:
            self.lost.append(f"a mark at {old[0]} went to {new[0]}")

    def compare(self, i: int) -> None:
        """By another way each time, with whatever there is."""
        way = ("wipe", "beside", "other", "one")[i % 4]
        self.js(COMPARE, way, i)
        self.at_rest()
        self.js(COMPARE, "one", 0)

    def several(self, count: str) -> None:
        """Several stills at once, filtered, one pinned; and back."""
        self.js(SEVERAL, count, "c")
        self.at_rest()
        self.js(SEVERAL, "1", "")

    def at_rest(self) -> None:
        time.sleep(0.2)
        wait_for(self.driver, "return document.getElementById('picture').dataset.exact === 'true'", 300)

    def propose(self) -> None:
        """A tuning to its end, an edit meanwhile, all but one of its numbers taken."""
        self.js("document.getElementById('tune').click(); document.querySelector('#tuning .main').click()")
        wait_for(self.driver, "return document.getElementById('tuning-says')")
        self.edit(0)
        named = "[...document.querySelectorAll('#tuning button')].find((b) => b.textContent === arguments[0])"
        limit = time.monotonic() + 900
        while not self.js(f"return Boolean({named})", "Take it"):
            if time.monotonic() > limit:
                raise SystemExit("a tuning never ended")
            time.sleep(0.5)
        for way in ("See it", "Wipe with now", "Beside now"):
            self.js(f"{named}.click()", way)
            self.at_rest()
        self.js("document.querySelector('#tuning tr:not(.step) input').click()")
        time.sleep(0.5)
        state = self.state()
        chosen, told = state["job"]["chosen"], state["job"]["result"]["changes"]
        self.js(f"{named}.click()", "Take it")
        state = self.settled(state["revision"])
        if state["undo"] != f"tuned, {len(chosen)} of {len(told)} numbers" or 0 in chosen:
            self.lost.append(f"a proposal was taken as {state['undo']!r}")
        self.js(COMPARE, "one", 0)

    def kill(self) -> None:
        time.sleep(0.3)  # what was done is on the disk some milliseconds after it was done
        before, marks = self.state()["text"], self.marks()
        self.process.kill()
        self.process.wait()
        self.start()
        wait_for(self.driver, "return document.getElementById('ask').open")
        self.js("[...document.querySelectorAll('#ask button')].find((b) => b.textContent === 'Take it up').click()")
        wait_for(self.driver, "return !document.getElementById('undo').disabled")
        if self.state()["text"] != before:
            self.lost.append("a killed server lost an edit")
        if self.marks() != marks:
            self.lost.append("a killed server lost a mark")
        self.check_versions()

    def check_versions(self) -> None:
        path = self.folder / f"{LOOK}.versions"
        told = json.loads(path.read_text())["versions"] if path.exists() else []
        found = {v["name"]: v["text"] for v in told}
        if found != self.versions:
            self.lost.append(f"versions: {sorted(set(self.versions) ^ set(found))}")

    def memory(self) -> tuple[float, float, float]:
        """MiB of the page's heap, of the browser and of the server."""
        self.driver.execute_cdp_cmd("HeapProfiler.collectGarbage", {})
        heap = self.driver.execute_cdp_cmd("Runtime.getHeapUsage", {})["usedSize"] / 2**20
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return heap, below(self.driver.service.process.pid), int(status.split("VmRSS:")[1].split()[0]) / 1024

    def close(self) -> None:
        self.driver.quit()
        self.process.terminate()
        self.process.wait(timeout=30)


def below(parent: int) -> float:
    """MiB of a process and all that it started, shared pages by their share."""
    total, own = 0.0, Path(f"/proc/{parent}")
    try:
        total = int((own / "smaps_rollup").read_text().split("Pss:")[1].split()[0]) / 1024
        children = [c for task in (own / "task").iterdir() for c in (task / "children").read_text().split()]
    except (OSError, IndexError):  # it ended
        return total
    return total + sum(below(int(child)) for child in children)


def value_of(state: dict[str, Any], kind: str, name: str) -> float:
    """As the field shows it: four digits."""
    card = next(s for s in state["steps"] if s["kind"] == kind)
    value = next(p["value"] for p in card["parameters"] if p["label"] == name)
    return float(f"{value:.4g}")


def main() -> None:
    parser = argparse.ArgumentParser(description=str(__doc__).partition("\n")[0])
    parser.add_argument("--edits", type=int, default=600)
    edits = parser.parse_args().edits
    print("| edits | page MiB | browser MiB | server MiB | seconds |\n|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name:
        hour = Hour(Path(name))
        began = time.monotonic()
        try:
            for i in range(1, edits + 1):
                hour.edit(i)
                if i % 20 == 0:
                    still = (i // 20) % len(STILLS)
                    hour.js("document.querySelectorAll('#strip button')[arguments[0]].click()", still)
                    wait_for(hour.driver, f"return sessionStorage.getItem('still') === '{still}'")
                if i % 30 == 0:
                    state = hour.state()
                    hour.js("document.getElementById('undo').click()")
                    hour.settled(state["revision"])
                if i % 60 == 0:
                    hour.version(i)
                if i % 15 == 5:
                    hour.mark()
                if i % 25 == 10:
                    hour.compare(i // 25)
                if i % 45 == 15:
                    hour.several(("2", "4", "9")[i // 45 % 3])
                if i % 40 == 33:
                    hour.js("document.getElementById('warnings').click()")
                    hour.at_rest()
                    hour.js("document.getElementById('warnings').click()")
                if i == edits // 2:
                    hour.propose()
                if i % 150 == 75:
                    hour.js("document.getElementById('tune').click()")
                    hour.js("document.querySelector('#tuning .main')?.click()")
                    time.sleep(1.0)
                    hour.js(
                        "[...document.querySelectorAll('#tuning button')].find((b) => b.textContent === 'Stop')?.click()"
                    )
                    time.sleep(0.5)
                    hour.js(
                        "[...document.querySelectorAll('#tuning button')].find((b) => b.textContent === 'Start again')?.click(); document.getElementById('tune').click()"
                    )
                if i % 100 == 50:
                    hour.open()
                if i in (edits // 3, 2 * edits // 3):
                    hour.kill()
                if i % (edits // 12 or 1) == 0:
                    page, whole, server = hour.memory()
                    print(
                        f"| {i} | {page:.1f} | {whole:.0f} | {server:.0f} | {time.monotonic() - began:.0f} |",
                        flush=True,
                    )
            hour.check_versions()
        finally:
            hour.close()
    print("\nNothing was lost." if not hour.lost else "\n" + "\n".join(hour.lost))


if __name__ == "__main__":
    main()
