"""How long the server takes for every page of a large farm, beside the smallest answer it can give.

``python benchmarks/bench_pages.py FOLDER [--rounds 20]`` on a farm made by ``benchmarks/big_farm.py`` (by default 300
machines with 500,000 runs). The pages are served by the real server over loopback, with the keeper at work beside them;
it begins once the outlooks are at hand. Every round asks for all pages in another order, and every fifth logs a run
first, so that what is kept has to be brought up to date. Printed for each page: median and 95th percentile of the
time from asking to the last byte, its size as sent, and the ratio of its median to that of the smallest answer, the
plainest thing this server can do. No gate.
"""

import argparse
import itertools
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

from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import machines
from feedwright.farm.rounds.rounds import plan
from feedwright.records.rounds_values import RoundPlan
from feedwright.records.store import Store
from feedwright.records.stores_values import Item
from feedwright.records.values import Case
from feedwright.web.app import create_app
from feedwright.web.keeper import Keeper
from feedwright.web.navigation import SECTIONS

SMALLEST = "/static/mark.svg"


def main(folder: Path, rounds: int) -> None:
    with open_farm(folder) as store:
        if not store.every(RoundPlan):
            plan(store)
        pages, names = pages_of(store), [machine.name for machine in machines(store)]
    begun = time.perf_counter()
    address = served(folder)
    wait_for(address, "/")
    print(f"outlooks at hand after {time.perf_counter() - begun:.0f} s", flush=True)
    for page in pages:  # what is worked out once is not timed
        begun = time.perf_counter()
        wait_for(address, page)
        if (took := time.perf_counter() - begun) > 1:
            print(f"first {page}: {took:.1f} s", flush=True)
    while b"is being worked out" in urllib.request.urlopen(asked(address, "/learning", packed=False)).read():
        time.sleep(5)  # the lessons of a large farm take minutes, once a day
    times, sizes, draw = defaultdict(list), {}, random.Random(1)
    for number in range(rounds):
        if number % 5 == 4:
            run = {"machine": names[number % len(names)], "material": "pla", "hours": "2", "outcome": "complete"}
            post(address, "/runs/new", run)
        for page in draw.sample(pages, len(pages)):
            begun = time.perf_counter()
            sizes[page] = ask(address, page)
            times[page].append(1000 * (time.perf_counter() - begun))
    report(times, sizes)


def pages_of(store: Store) -> list[str]:
    """Every page of the navigation, and those of one machine, part, run, visit, case, item, spool, print and search."""
    doors = [door.to for section in SECTIONS for door in section.doors]
    machine = urllib.parse.quote(machines(store)[7].name)
    part = "?part=nozzle"
    of_machine = ["", f"/part{part}", "/visit", "/heat", "/tram", "/values", "/true", f"/finding{part}",
                  f"/renewal{part}", "/event"]  # fmt: skip
    running = store.machine(store.open_prints()[0].machine_id)
    assert running is not None
    printing = urllib.parse.quote(running.name)
    visit, case, spool = store.visits()[-1].id, store.every(Case)[-1].id, store.spools_in_use()[0][-1].id
    run = store.runs(running.id)[-1].id
    others = [
        "/machines/new", "/first", f"/prints?machine={printing}", f"/prints/end?machine={printing}", "/prints/shelf",
        f"/runs/new?machine={machine}", f"/runs/{run}", f"/void?what=run&number={run}", "/cases/new", f"/cases/{case}",
        f"/cases/{case}/answer", f"/cases/{case}/end", f"/visits/{visit}", f"/books/{store.latest_act_id()}",
        f"/toolpaths/{store.toolpaths()[0].sha256}", "/fit", f"/figures/records?by=machine&name={machine}",
        "/figures/saved", "/handbook/parts/nozzle", "/handbook/signs", "/stores/new", "/stores/order",
        f"/stores/{store.every(Item)[0].id}", "/spools/new", f"/spools/{spool}", "/spools?skip=60",
        "/bench/watch?skip=60", "/rounds/hours", "/rounds/what-if", "/rounds/sheet", f"/m/{machine}",
        "/search?q=nozzle",
    ]  # fmt: skip
    return [SMALLEST, *doors, *(f"/machines/{machine}{page}" for page in of_machine), *others]


def served(folder: Path) -> str:
    """The address of the farm's pages, served with their keeper from threads of this process."""
    app = create_app(folder)
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="warning"))
    threading.Thread(target=server.run, daemon=True).start()
    Keeper(app.state.farms).start()
    while not server.started:
        time.sleep(0.05)
    return f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"


def wait_for(address: str, page: str) -> None:
    """Until a page is there; says how soon the server answers while it is not."""
    for tries in itertools.count():
        begun = time.perf_counter()
        try:
            urllib.request.urlopen(asked(address, page)).read()
        except urllib.error.HTTPError as error:
            if error.code != 503:
                raise SystemExit(f"{page}: {error.code}") from error
            if tries < 3:
                print(f"{page} while being worked out: {1000 * (time.perf_counter() - begun):.0f} ms", flush=True)
            time.sleep(2)
        else:
            return


def asked(address: str, page: str, *, packed: bool = True) -> urllib.request.Request:
    packing = {"Accept-Encoding": "gzip"} if packed else {}
    return urllib.request.Request(address + page, headers={"Accept": "text/html", **packing})


def ask(address: str, page: str) -> int:
    """Bytes of the answer."""
    try:
        with urllib.request.urlopen(asked(address, page)) as answer:
            return len(answer.read())
    except urllib.error.HTTPError as error:
        raise SystemExit(f"{page}: {error.code}") from error


def post(address: str, page: str, form: dict[str, str]) -> None:
    data = urllib.parse.urlencode(form).encode()
    sent = urllib.request.Request(address + page, data, {"Accept": "application/json", "Origin": address})
    urllib.request.urlopen(sent).read()


def report(times: dict[str, list[float]], sizes: dict[str, int]) -> None:
    least = statistics.median(times[SMALLEST])
    print(f"{'page':42} {'median ms':>10} {'95 % ms':>9} {'kB':>7} {'ratio':>7}")
    for page, took in sorted(times.items(), key=lambda held: statistics.median(held[1])):
        middle, most = statistics.median(took), statistics.quantiles(took, n=20)[-1]
        print(f"{page:42} {middle:10.1f} {most:9.1f} {sizes[page] / 1000:7.1f} {middle / least:7.1f}")
    late = {page: statistics.quantiles(took, n=20)[-1] for page, took in times.items()}
    worst, slow = max(late, key=late.__getitem__), sum(ms >= 100 for ms in late.values())
    print(f"worst 95th percentile: {late[worst]:.0f} ms, {worst}; {slow} pages at 100 ms or more")


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("folder", type=Path)
    words.add_argument("--rounds", type=int, default=20)
    given = words.parse_args()
    main(given.folder, given.rounds)
