"""A build-history ledger for modified road cars: what changed, what it did, what is left.

This is the library's front door. Importing it costs nothing; what is asked for is loaded then.

>>> import buildlog
>>> car = buildlog.open("demo-ledger")  # a folder, a bundle or a handover package
>>> car.history[-1]
<stage-2-recheck: entry 16, ad9a655f, 2026-06-06, 89541 mi, dyno>
>>> stage = car.version("stage-2")
>>> stage.configuration.induction.boost.target_gauge.text
'9.0 psi'
>>> stage.configuration.engine.bore.to("in"), stage.configuration.engine.bore.si
(3.307..., 0.084)

A diff has changes, measured, predicted, margins and findings; a block that it has not is an
object that is false and says why.

>>> d = car.diff("stage-1", stage)
>>> d
<diff stage-1 to stage-2: 126 changes; measured gain +60.2 ± 5.6 hp at the wheels (...)...>
>>> round(d.measured.power.peak_delta_w), round(d.measured.power.half_width_95_w)
(44863, 4197)
>>> car.diff("first", 2).measured.reason
'both were measured in one session (2026-02-11-baseline)'

Curves are arrays of numpy, with the unit in the name; a session goes into a long frame of pandas.

>>> pull = car.sheet("2026-05-09-stage-2").pulls[0]
>>> pull.axis_rpm.shape == pull.power_w.shape
True

An edit is collected in memory, checked as on the command line, and recorded under the lock.

>>> with car.edit(by="D-07") as work:
...     work.set("exhaust.pipe_diameter", "63.5 mm")
...     [change.path for change in work.preview().changes]
...     work.abandon()
['exhaust.pipe_diameter']
>>> car.close()

Every error is a `BuildlogError` with `.what`, `.where` and `.hint`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

__version__ = "0.1.0"

_DOOR = {
    "open": "buildlog.desk.places:open_place",
    "shop": "buildlog.desk.places:open_shop",
    "OpenedCar": "buildlog.desk.opened_car:OpenedCar",
    "CarVersion": "buildlog.desk.views.car_version:CarVersion",
    "Edit": "buildlog.desk.edit:Edit",
    "Shop": "buildlog.desk.places:Shop",
    "Tightening": "buildlog.desk.acts.fault_acts:Tightening",
    "SessionSaid": "buildlog.desk.acts.dyno.session_addition:SessionSaid",
    "LogsSaid": "buildlog.desk.acts.dyno.log_addition:LogsSaid",
    "Absent": "buildlog.desk.views.view:Absent",
    "Quantity": "buildlog.units:Quantity",
    "BuildlogError": "buildlog.errors:BuildlogError",
    "UsageError": "buildlog.errors:UsageError",
    "NotFound": "buildlog.errors:NotFound",
    "NothingToDraw": "buildlog.errors:NothingToDraw",
    "InvalidInput": "buildlog.errors:InvalidInput",
    "DamagedLedger": "buildlog.errors:DamagedLedger",
    "PartOnly": "buildlog.errors:PartOnly",
    "ChangedUnderYou": "buildlog.errors:ChangedUnderYou",
    "DiskError": "buildlog.errors:DiskError",
    "TrustError": "buildlog.errors:TrustError",
    "MissingExtra": "buildlog.errors:MissingExtra",
}

if TYPE_CHECKING:
    from buildlog.desk.acts.dyno.log_addition import LogsSaid as LogsSaid
    from buildlog.desk.acts.dyno.session_addition import SessionSaid as SessionSaid
    from buildlog.desk.acts.fault_acts import Tightening as Tightening
    from buildlog.desk.edit import Edit as Edit
    from buildlog.desk.opened_car import OpenedCar as OpenedCar
    from buildlog.desk.places import Shop as Shop
    from buildlog.desk.places import open_place as open
    from buildlog.desk.places import open_shop as shop
    from buildlog.desk.views.car_version import CarVersion as CarVersion
    from buildlog.desk.views.view import Absent as Absent
    from buildlog.errors import BuildlogError as BuildlogError
    from buildlog.errors import ChangedUnderYou as ChangedUnderYou
    from buildlog.errors import DamagedLedger as DamagedLedger
    from buildlog.errors import DiskError as DiskError
    from buildlog.errors import InvalidInput as InvalidInput
    from buildlog.errors import MissingExtra as MissingExtra
    from buildlog.errors import NotFound as NotFound
    from buildlog.errors import NothingToDraw as NothingToDraw
    from buildlog.errors import PartOnly as PartOnly
    from buildlog.errors import TrustError as TrustError
    from buildlog.errors import UsageError as UsageError
    from buildlog.units import Quantity as Quantity
else:

    def __getattr__(name: str) -> object:
        """What stands at the door, loaded when it is first asked for."""
        from importlib import import_module

        if name not in _DOOR:
            raise AttributeError(f"module 'buildlog' has no attribute {name!r}")
        module, _, held = _DOOR[name].partition(":")
        found = globals()[name] = getattr(import_module(module), held)
        return found


def __dir__() -> list[str]:
    return sorted([*_DOOR, "__version__"])


__all__ = [  # noqa: RUF022 - what is asked for first stands first
    "open", "shop", "OpenedCar", "CarVersion", "Edit", "Shop", "Tightening", "SessionSaid",
    "LogsSaid",
    "Absent", "Quantity",
    "BuildlogError", "UsageError", "NotFound", "InvalidInput", "DamagedLedger", "ChangedUnderYou",
    "NothingToDraw", "PartOnly", "DiskError", "TrustError", "MissingExtra", "__version__",
]  # fmt: skip
