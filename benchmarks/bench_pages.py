"""How long the server takes for every page of a large farm, beside the smallest page it can serve.

``python benchmarks/bench_pages.py FOLDER [--rounds 20] [--port 0]`` on a farm made by ``benchmarks/big_farm.py`` (by
default 300 machines with 500,000 runs). The pages are served by the real server over loopback; every round asks for all
of them in another order, and every fifth round first logs a run, so that what is kept has to be brought up to date.
Printed for each page: median and 95th percentile of the server's time, its size, and the ratio of its median to that of
the smallest answer, the plainest thing this server can do. No gate.
"""

import argparse
import random
import statistics
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections import defaultdict
from pathlib import Path

import uvicorn

from feedwright.farm.house import open_farm
from feedwright.farm.machines import machines
from feedwright.web.app import create_app
from feedwright.web.navigation import SECTIONS

SMALLEST = "/static/mark.svg"


def main(folder: Path, rounds: int) -> None:
    address = served(folder)
    with open_farm(folder) as store:
        name = urllib.parse.quote(machines(store)[7].name)
    pages = pages_of(name)
    for page in pages:  # what is worked out once is not timed
        begun = time.perf_counter()
        ask(address, page)
        if (took := time.perf_counter() - begun) > 1:
            print(f"first {page}: {took:.1f} s", flush=True)
    times, sizes, draw = defaultdict(list), {}, random.Random(1)
    for number in range(rounds):
        if number % 5 == 4:
            post(
                address,
                "/runs",
                {"machine": urllib.parse.unquote(name), "material": "pla", "hours": "2", "outcome": "complete"},
            )
        for page in draw.sample(pages, len(pages)):
            begun = time.perf_counter()
            sizes[page] = ask(address, page)
            times[page].append(1000 * (time.perf_counter() - begun))
    report(times, sizes)


def pages_of(name: str) -> list[str]:
    """Every page of the navigation, and those of one machine."""
    doors = [door.to for section in SECTIONS for door in section.doors]
    own = [f"/machines/{name}", f"/machines/{name}/visit", f"/runs/new?machine={name}"]
    return [SMALLEST, *doors, *own]


def served(folder: Path) -> str:
    """The address of the farm's pages, served from a thread of this process."""
    config = uvicorn.Config(create_app(folder), port=0, log_level="warning")
    server = uvicorn.Server(config)
    threading.Thread(target=server.run, daemon=True).start()
    while not server.started:
        time.sleep(0.05)
    return f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"


def ask(address: str, page: str) -> int:
    asked = urllib.request.Request(address + page, headers={"Accept": "text/html", "Accept-Encoding": "gzip"})
    try:
        with urllib.request.urlopen(asked) as answer:
            return len(answer.read())
    except urllib.error.HTTPError as error:
        raise SystemExit(f"{page}: {error.code}") from error


def post(address: str, page: str, form: dict[str, str]) -> None:
    data = urllib.parse.urlencode(form).encode()
    asked = urllib.request.Request(address + page, data, {"Accept": "application/json", "Origin": address})
    urllib.request.urlopen(asked).read()


def report(times: dict[str, list[float]], sizes: dict[str, int]) -> None:
    least = statistics.median(times[SMALLEST])
    print(f"{'page':42} {'median ms':>10} {'95 % ms':>9} {'kB':>7} {'ratio':>7}")
    for page, took in sorted(times.items(), key=lambda held: statistics.median(held[1])):
        middle, late = statistics.median(took), statistics.quantiles(took, n=20)[-1]
        print(f"{page:42} {middle:10.1f} {late:9.1f} {sizes[page] / 1000:7.1f} {middle / least:7.1f}")


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("folder", type=Path)
    words.add_argument("--rounds", type=int, default=20)
    given = words.parse_args()
    main(given.folder, given.rounds)
