"""The small farm behind the pages under test."""

import socket
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.people import add_person
from feedwright.farm.ground.settings import set_farm_name, set_zone
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run
from feedwright.farm.stores.spools import add_spool, dry_spool
from feedwright.farm.stores.stores import add_item, order_items
from feedwright.records.store import Store
from feedwright.web.app import OWN_NAMES, create_app

SAMPLES = Path(__file__).parents[1] / "data" / "toolpaths"
ODD_NAME = "Ash <b>& 'Oak' #1?" + "W" * 41
"""A machine's name that would do harm on a page that trusted it."""
TEST_HOSTS = OWN_NAMES | {"testserver"}
"""The names that the pages under test answer to."""
THIS_MACHINE = ("127.0.0.1", 50_000)
"""Where a test's requests come from, unless they are to come over the network."""


def fill_farm(folder: Path) -> None:
    """Two machines with runs, findings, renewals and an event."""
    now = datetime.now(UTC)
    with open_farm(folder, create=True) as store:
        set_farm_name(store, "Test yard")
        set_zone(store, "Europe/Vienna")
        add_person(store, "Ada")
        add_machine(store, "Larch", "moving_bed_remote", history="new", at_utc=now - timedelta(days=90))
        add_machine(store, ODD_NAME, "crossed_gantry_enclosed")
        for day in range(60, 0, -1):
            at = now - timedelta(days=day)
            add_run(store, "Larch", material="pla", hours=14.0, nozzle_c=245.0, started_utc=at)
        add_run(store, "Larch", material="petg", toolpath=SAMPLES / "d14.gcode.gz", outcome="spoiled", fraction=0.37)
        add_finding(store, "Larch", "nozzle", grade="trace", note="a <i>brown</i> rim", person="Ada")
        renew(store, "Larch", "bed_surface", reason="worn", minutes=10)
        fill_stores(store, now)
        add_event(store, "Larch", "power_cut", nozzle_c=230.0, minutes=20, note="the street was dark")


def fill_stores(store: Store, now: datetime) -> None:
    """Two items, one of them ordered, and two spools, one of them on a machine."""
    begun = now - timedelta(days=30)
    add_item(store, "brass nozzle 0.4", ["nozzle:brass"], pack_count=5, on_hand=0, supplier="corner shop", at_utc=begun)
    add_item(store, "liner <b>steel</b>", ["linear_bearing"], on_hand=2, at_utc=begun)
    order_items(store, [("liner <b>steel</b>", 2)], at_utc=begun)
    add_spool(
        store, "pla", label="<i>green</i>", lot="L-7", tare_g=210, machine="Larch", at_utc=now - timedelta(days=2)
    )
    dry_spool(store, 1, dry_c=45, dry_h=6)
    add_spool(store, "petg", lot="P-2", price_paid="21.50", at_utc=begun)


def served(folder: Path, *names: str) -> Iterator[str]:
    """The address of a really listening server of a farm, which ends with the iteration; ``names`` are its too."""
    import uvicorn

    with socket.create_server(("127.0.0.1", 0)) as listening:
        app = create_app(folder, hosts=OWN_NAMES | {*names})
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
        server.should_exit = True
        thread.join(10)
