"""The API's stores and spools, to look at."""

from typing import Any

from fastapi import APIRouter
from starlette.requests import Request

from feedwright.farm.stores.spools import SpoolSheet, spool_sheet, spools
from feedwright.farm.stores.stock import stocks
from feedwright.farm.stores.stores import ItemSheet, item_sheet, items
from feedwright.web.api.base import READ, ListSpan, Number, Page, router_of
from feedwright.web.api.told import ItemTold, SpoolTold
from feedwright.web.render import farm

router: APIRouter = router_of("stores")


def _item_told(item: Any, stock: Any) -> dict[str, Any]:
    return {
        "number": item.id, "name": item.name, "note": item.note, "on_hand_count": stock.on_hand,
        "on_order_count": stock.on_order, "counted_utc": stock.counted_utc,
    }  # fmt: skip


def _sheet_told(sheet: ItemSheet) -> dict[str, Any]:
    return _item_told(sheet.item, sheet.stock)


def _spool_told(sheet: SpoolSheet) -> dict[str, Any]:
    spool = sheet.spool
    return {
        "number": spool.id, "material": spool.material, "label": spool.label, "lot": spool.lot, "net_g": spool.net_g,
        "drawn_g": sheet.drawn_g, "left_g": sheet.left.interval, "machine": sheet.machine.name if sheet.machine else "",
        "place": sheet.place, "empty": sheet.empty,
    }  # fmt: skip


@router.get("/stores", response_model=Page[ItemTold], dependencies=[READ], summary="What the stores hold")
def list_items(request: Request, span: ListSpan) -> Any:
    """On hand and on order."""
    with farm(request) as store:
        held = stocks(store)
        return span.of(items(store), lambda item: _item_told(item, held[item.id]))


@router.get("/stores/{item}", response_model=ItemTold, dependencies=[READ], summary="One thing of the stores")
def show_item(request: Request, item: str) -> Any:
    """By its name."""
    with farm(request) as store:
        return _sheet_told(item_sheet(store, item))


@router.get("/spools", response_model=Page[SpoolTold], dependencies=[READ], summary="Spools")
def list_spools(request: Request, span: ListSpan, empty: bool = False) -> Any:
    """Those that hold filament; the empty ones too where asked for."""
    with farm(request) as store:
        return span.of(spools(store, empty=empty), _spool_told)


@router.get("/spools/{number}", response_model=SpoolTold, dependencies=[READ], summary="One spool")
def show_spool(request: Request, number: Number) -> Any:
    """How much is left is known within a band."""
    with farm(request) as store:
        return _spool_told(spool_sheet(store, number))
