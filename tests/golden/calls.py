"""What the program is asked, group by group; each group begins with a fresh copy of the demo."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

import click

STAGES = ("as-found", "baseline", "stage-1", "stage-2", "stage-2-recheck")
MEASURED = STAGES[1:]
SESSIONS = (
    "2026-02-11-baseline", "2026-03-14-stage-1", "2026-05-09-stage-2",
    "2026-06-06-stage-2-recheck",
)  # fmt: skip
ASSEMBLIES = ("engine", "induction", "fuel", "calibration", "clutch", "exhaust", "tyres")
VERSIONS = ("working", "latest", "first", *map(str, range(1, 14)))
ORDERED = [(a, b) for a in STAGES for b in STAGES if a != b]
STEPS = list(pairwise(MEASURED))
PAIRS = [(a, b) for i, a in enumerate(MEASURED) for b in MEASURED[i + 1 :]]

BEFORE_DYNO = (
    "straps", "fan", "extraction", "extinguisher", "tyres", "wheel-nuts", "fluids", "air",
)  # fmt: skip


def twice(call: str) -> Iterator[str]:
    """A call as text and as JSON."""
    yield call
    yield f"{call} --json"


def both(*calls: str) -> list[str]:
    return [one for call in calls for one in twice(call)]


def units(*calls: str) -> list[str]:
    return [f"{call} --units {system}" for call in calls for system in ("us", "metric")]


HISTORY = [*both("history", "history --full"), *units("history")]
SHOW = [
    *both("show", "show --full", "show --parts", "show --parts --full"),
    *units("show --full"),
    *[f"show {version}" for version in (*VERSIONS, *STAGES)],
    *[f"show {stage} --json" for stage in ("as-found", "stage-1")],
    *[f"show --assembly {name} --full" for name in ASSEMBLIES],
    *both("show --at calibration.id", "show --at clutch.rated_torque", "show --at engine.bore",
          "show --at exhaust.headers.kind", "show stage-1 --assembly fuel"),
    "show --at engine.boer", "show --at car.vin", "show nothing", "show 99", "show ad9a655f",
]  # fmt: skip
DIFF = [
    *both("diff"), *[f"diff {a} {b}" for a, b in PAIRS],
    *[f"diff {a} {b} --json" for a, b in STEPS], "diff stage-1 stage-2 --full --units metric",
    "diff latest working", "diff first latest", "diff 5 7", "diff stage-1 nothing",
    "diff stage-1 stage-2 --standard nonsense",
]  # fmt: skip
DIFF_MORE = [
    *both("diff latest working", "diff latest first", "diff 5 7", "diff first latest"),
    "diff stage-1 stage-2 --standard DIN",
    "diff stage-1 stage-2 --strict",
    "diff stage-1 stage-1",
    *[f"diff {a} {b}" for a, b in ORDERED if (a, b) not in PAIRS],
    *[f"diff {a} {b} --full" for a, b in ORDERED if STAGES.index(a) < STAGES.index(b)],
    *[f"diff {a} {b} --json" for a, b in PAIRS if (a, b) not in STEPS],
    *units("diff stage-1 stage-2 --full"),
    "diff stage-1 stage-2 --standard none --full",
    *[f"diff {n} {n + 1}" for n in range(1, 13)],
]
DYNO = [
    *both(*[f"dyno sheet {one}" for one in SESSIONS]), "dyno sheet --full --units metric",
    "dyno sheet --standard none", "dyno sheet nothing",
    *[f"dyno compare {a} {b}" for a, b in STEPS], "dyno compare stage-1 stage-2 --json",
    *both("dyno relate R1 R2"), "dyno relate R1 R9",
    *both("dyno coast ../in/coast-1.csv ../in/coast-2.csv --mass '1500 kg'"),
    "dyno coast ../in/coast-1.csv --mass '1500 kg'",
    "dyno coast ../in/blind.csv --mass '1500 kg'", "dyno coast ../in/coast-1.csv",
]  # fmt: skip
DYNO_MORE = [
    *both(*[f"dyno sheet {one} --full" for one in SESSIONS]), "dyno sheet --strict",
    *[f"dyno compare {a} {b}" for a, b in PAIRS], *units("dyno sheet --full"),
    *[f"dyno sheet --standard '{one}'" for one in ("ISO 1585", "60F-29.92-dry", "DIN 70020")],
    "dyno sheet --figure ../out/sheet.svg",
    *[f"dyno compare {a} {b} --json" for a, b in PAIRS],
    *units("dyno compare stage-1 stage-2"), "dyno compare stage-1 stage-2 --standard DIN",
    "dyno compare stage-1 nothing", "dyno relate R2 R1 --standard DIN",
]  # fmt: skip
PREDICT = [
    "predict",
    *both("predict --back-test"),
    *both("predict stage-1 stage-2"),
    "predict baseline stage-1",
    "predict stage-2 stage-2-recheck",
    "predict as-found stage-1",
]
PREDICT_MORE = [
    "predict stage-1 stage-2 --air-temperature '35 degC' --altitude '1500 m'",
    "predict stage-1 stage-2 --shop ..",
    "predict stage-1 stage-2 --standard none",
    *[f"predict {a} {b}" for a, b in ORDERED if a in MEASURED],
    *[f"predict {a} {b} --json" for a, b in PAIRS],
    *[f"predict {a} {b} --full" for a, b in PAIRS],
    *both("predict --back-test --full"),
    *units("predict stage-1 stage-2 --full"),
    "predict stage-1 stage-2 --air-pressure '950 hPa' --humidity '60 percent' --json",
    "predict stage-1 stage-2 --standard DIN",
]
MARGINS = [
    *both("margins", "margins --full"), "margins --units metric", "margins --strict",
    *[f"margins {version}" for version in (*STAGES, *map(str, range(1, 14)))],
    *[f"margins {version} --json" for version in MEASURED[:2]],
    "margins nothing",
]  # fmt: skip
MARGINS_MORE = [
    *units("margins --full"), *[f"margins {version} --full" for version in MEASURED],
    *[f"margins {version} --json" for version in VERSIONS],
]  # fmt: skip
HEADROOM = [*both("headroom"), "headroom stage-2 --full --units metric"]
HEADROOM_MORE = [
    *both("headroom --full"), *units("headroom --full"), "headroom --strict",
    *[f"headroom {version}" for version in VERSIONS], *[f"headroom {v} --full" for v in MEASURED],
]  # fmt: skip
WORKSHOP = [
    *both("next", "next --full", "checklist list", "checklist show", "torque list",
          "torque list --full", "fault list", "fault list --open", "key list", "check",
          "check --full", "verify", "plan list"),
    *units("next", "torque list --full", "fault list", "check"),
    "next --strict", "torque list --strict", "check --found", "verify .", "verify ../demo.bundle",
    *[call for name in ("intake", "first-start", "light-load-check", "before-dyno",
                        "after-break-in", "hand-back")
      for call in twice(f"checklist show {name}")],
    "checklist show nothing", "attach nothing.jpg",
]  # fmt: skip
SHOP = [
    *both("shop list ..", "shop list .. --full", "shop list .. --gains", "shop list .. --faults",
          "shop list .. --due", "shop list .. --find clutch.part.number=*",
          "shop list .. --find fuel.injectors.flow='550 cc/min'",
          "shop list .. --find induction.kind=turbocharger", "shop list .. --gains --full"),
    *units("shop list .. --due", "shop list .. --gains"),
    "shop list .. --csv", "shop list .. --gains --csv", "shop list .. --faults --csv",
    "shop list .. --due --csv", "shop list .. --plot ../out/shop.svg",
    "shop list .. --gains --plot ../out/gains.svg", "shop list nowhere",
    "shop list .. --find nonsense", "shop list .. --find engine.nonsense=1",
]  # fmt: skip
REPORT = [
    "report stage-2", "report stage-1 --json", "report nothing",
    "report stage-2 --out ../out/sheet.html", "handover ../out/given --dry-run --json",
]  # fmt: skip
REPORT_MORE = [
    "report",
    "report stage-1 stage-2",
    "report stage-1 --full",
    "report stage-2 --full",
    "handover ../out/given --dry-run",
    "report baseline",
    *units("report stage-2"),
    "report stage-2 --json",
    "report as-found --json",
    "report stage-1 --full --out ../out/full.html --paper letter",
    "handover ../out/given --dry-run --with-plans --no-pdf --units metric",
]
PLOT = [
    "plot --out ../out/all.svg",
    "plot baseline stage-1 stage-2 --out ../out/three.svg",
    "plot 5 stage-2 --out ../out/five.svg",
    "plot 5 --out ../out/none.svg",
]
PLOT_MORE = [
    "plot --what torque --units metric --out ../out/torque.svg",
    "plot stage-1 stage-2 --what boost --out ../out/boost.svg",
    "plot stage-1 stage-2 --predicted --out ../out/predicted.svg",
    "plot stage-1 --against 'road speed' --out ../out/speed.svg",
    "plot stage-1 stage-2 --standard DIN --out ../out/din.svg",
    "plot stage-1 stage-2 --out ../out/picture.png",
    "plot stage-1 --out ../out/picture.pdf",
    "diff stage-1 stage-2 --plot ../out/diff.svg",
    "dyno sheet --figure ../out/sheet.svg",
]

NEW = [
    "new ../mine --name 'Marrow Tern 2.6' --year 1994 --shop 'Quarry Lane' --units metric",
    "new ../mine", "check --ledger ../mine", "record -m 'as it came' --ledger ../mine",
    "new ../copy --from car.toml --units us", "new ../volts --name Volts --power-source electric",
    "check --full --ledger ../copy",
    "record -m 'as it came' --kind found --odometer '90000 mi' --ledger ../copy --dry-run",
    "record -m 'as it came' --kind found --odometer '90000 mi' --ledger ../copy --json",
    "history --ledger ../copy", "history --ledger ../mine", "shop list .. --due",
    "set engine.bore='82 mm' engine.stroke='75 mm' --ledger ../mine",
    "set car.model=Tern --ledger ../mine", "diff --ledger ../mine",
]  # fmt: skip
RECORD = [
    "set exhaust.pipe_diameter='63.5 mm' calibration.id=T26-005", "set engine.boer='1 mm'",
    "set engine.bore=wide", "set exhaust.sound_level=", "set clutch.rated_torque='380 N*m'",
    "check --json", "diff", "next", "margins",
    *both("record -m 'wider pipe' --stage stage-3 --dry-run"),
    "record -m 'wider pipe' --stage stage-2", "record -m 'wider pipe' --date 2027-01-01",
    "record -m 'wider pipe' --odometer '80000 mi'", "record -m 'pipe' --corrects 99",
    "record -m 'wider pipe' --notes 'with a new hanger' --stage stage-3 --odometer '89700 mi' "
    "--date 2026-06-09 --done-by D-07 --approved-by D-01",
    "record -m nothing", "set exhaust.pipe_diameter='63 mm'",
    "record -m 'it was 63 mm' --kind correction --corrects stage-3 --json",
    "history --full", "show --at exhaust.pipe_diameter", "verify",
    "work add seats --note 're-covered'", "work add respray --note wings",
    "work add respray --note 'all panels'", "record -m trim --odometer unknown", "history",
    "attach ../in/T26-005.bin", "attach ../in/manifold.jpg --folder photos --json",
    "attach ../in/T26-005.bin", "attach ../in/none.bin", "record -m 'calibration kept'",
    "check --found --answers ../in/answers.toml --odometer '90100 mi' --by D-01",
    "check", "record -m 'as found' --kind found --odometer '90100 mi'", "verify --json",
    "history --json",
]  # fmt: skip
CHECKING = [
    "checklist start before-dyno --by D-07", "checklist start before-dyno", "checklist show",
    "checklist tick", "checklist tick nonsense --result pass",
    "checklist tick tyre-pressure --value '2.4 bar' --note cold",
    *[f"checklist tick {key} --result pass --by D-07" for key in BEFORE_DYNO],
    *both("checklist list", "checklist show", "next --full"),
    "checklist start intake --odometer '89800 mi' --note 'again' --date 2026-06-08",
    "checklist tick compression --value '172 168 171 170 169 172 psi' --list intake",
    "checklist tick charging-voltage --value '12.4 V' --list intake",
    "checklist tick trouble-codes --code P0299 --code U0158 --list intake",
    "torque add 'flywheel to crankshaft' bolt1='105 N*m' bolt2='140 N*m' --thread M12x1.5 "
    "--grade 10.9 --condition oiled --single-use --new --part flywheel --by D-07 --tool W-11",
    "torque add 'header flange' --count 12 --torque '22 N*m' --thread M8x1.25 --grade 8.8 "
    "--condition anti-seize --spec-low '20 N*m' --spec-high '24 N*m' --spec-source 'the maker' "
    "--retorque-after '200 mi' --part exhaust.headers",
    "torque add 'wheel nuts' --torque 'tight'", "torque add 'wheel nuts'",
    "torque add 'drain plug' --count 1 --torque '30 N*m' --angle '90 deg' --spec-angle '90 deg'",
    *both("torque list", "torque list --full"),
    "torque sheet ../in/head.csv --source 'the maker' --json", "torque sheet ../in/head.csv",
    "torque sheet ../in/blind.csv", "torque do head", "torque do --again",
    "torque do 2026-06-10-head --joint 'cylinder head' --by D-07 --json",
    "torque do 2026-06-10-head --joint 'cylinder head' --value '44 lb*ft' --how reading",
    "torque do 2026-06-10-head --joint 'cylinder head' --number 3", "torque do head-2 --joint sump",
    "torque do 2026-06-10-head --joint main", "torque do 2026-06-10-head --joint main --value 50",
    "torque do head-2 --joint sump --take-back", *both("torque show head-2", "torque list"),
    *twice("torque show 2026-06-10-head"),
    "discard", "discard head-2", "discard 2026-06-06-stage-2-recheck", "discard car.toml",
    "discard --back", "discard --back 2026-06-10-1", *both("discard 2026-06-10-header-flange"),
    "discard --back nothing", "discard --back --json", *both("discard --all"),
    "fault add 'belt squeals when cold' --part induction.belt --code P0299 --by D-07",
    "fault add 'hiss under load' --part induction.charge_cooler --no-hold --cause unknown",
    "fault add", "fault add 'no such part' --part nonsense", *both("fault list", "next"),
    "fault close belt --remedy 'new belt' --by D-07 --odometer '89810 mi'", "fault close",
    "fault close nonsense --remedy x", *both("fault list", "fault list --open"), "check",
    "record -m 'looked over' --dry-run", "record -m 'looked over' --odometer '89820 mi'",
    *both("next"), "history", "shop list .. --faults", "verify",
]  # fmt: skip
SAID = "--standard-applied none --gear 4 --dyno R2 --dyno-kind inertia"
ADDED = [
    f"dyno add ../in/run-1.csv ../in/run-2.csv ../in/run-3.csv --session again {SAID} "
    "--air-temperature '22 degC' --air-pressure '990 hPa' --humidity '45 percent' "
    "--odometer '89700 mi' --place 'Estovale test hall' --calibration T26-004 "
    "--tyre-pressure '2.2 bar' --date 2026-06-09 --note 'a fan more'",
    "dyno add ../in/run-1.csv --session again",
    *both("dyno sheet"),
    "dyno log ../in/wide.csv",
    "dyno log ../in/wide.csv --session again --pull run-1 --source wideband --json",
    "dyno log ../in/wide.csv --pull run-3 --map lambda=Lambda --leave-out 'Boost (kPa)'",
    "dyno log ../in/wide.csv --pull run-2 --shift '3.7 s'",
    *both("dyno sheet"),
    "check",
    "record -m 'measured again' --stage again --dry-run",
    "record -m 'measured again' --stage again",
    "diff stage-2 again",
    "history",
    "dyno compare stage-2-recheck again",
    f"dyno add ../in/wide.csv --session x {SAID}",
    f"dyno add ../in/log.txt --session log {SAID}",
    "dyno add ../in/log.txt --session half",
    f"dyno add ../in/log.txt --session metric {SAID} --units metric --json",
    f"dyno add ../in/open.csv --session open {SAID}",
    f"dyno add ../in/open.csv --session open {SAID} --map power=P:kW --map engine_speed=N:rpm",
    f"dyno add ../in/none.csv --session x {SAID}",
    f"dyno add ../in/log.txt {SAID}",
    "dyno add --session stated --date 2026-06-08 --stated "
    "'power=148 hp@5600 rpm,standard=SAE J1349,at=wheel,source=a sheet'",
    "dyno sheet stated",
    "record -m 'found in a drawer' --date 2026-06-10",
    "verify",
]
PLANS = [
    "plan compare",
    "plan new boost",
    "plan new boost",
    "plan set boost induction.boost.target_gauge='10 psi' price=300.00 currency=EUR "
    "note='spring and calibration'",
    "plan new cam --from stage-2-recheck",
    "plan set cam engine.camshaft.kind='270 deg' engine.camshaft.effect.breathing_low='2 percent' "
    "engine.camshaft.effect.breathing_high='8 percent' "
    "engine.camshaft.effect.source='grinder sheet' price=1800 currency=EUR "
    "exhaust.catalysts.kind=none",
]
PLANNED = [
    *PLANS, "plan set cam price=4800,50", "plan set nothing price=1", "plan show nothing",
    *both("plan list", "plan compare boost cam"), "plan show cam", "predict latest plan:cam",
    "set induction.boost.target_gauge='8 psi'", "plan adopt boost",
    "plan adopt boost --take plan --json", "plan adopt boost", "plan drop cam", "plan drop cam",
    "plan list",
]  # fmt: skip
PLANNED_MORE = [
    *PLANS,
    *both("plan show boost", "plan show cam --full"),
    *units("plan compare"),
    "plan compare boost --shop ..",
    "plan show boost --shop .. --units metric",
    "diff latest plan:boost --json",
    "margins plan:boost",
    "headroom plan:boost",
    "shop list .. --due",
    "handover ../out/given --with-plans --dry-run",
]
PROMISED = [
    "plan new boost", "plan quote boost", "plan accept boost --how 'by phone'",
    "plan set boost induction.boost.target_gauge='10 psi' 'charge[induction]=300.00' "
    "'charge[fitting, 3 hours]=375.00' currency=USD time='2 working days' valid_until=2026-07-10",
    "plan set boost price=700", "plan set boost 'charge[paint].why=dull'",
    "plan set boost valid_until=soon", "plan set boost 'charge[induction]=3,00'",
    "plan quote boost --date 2026-06-07", *both("plan quote boost"),
    "plan quote boost --html ../out/quote.html", "plan quote boost --pdf ../out/quote.html",
    "plan accept boost --how 'by phone' --by D-01 --date 2026-06-06",
    "plan accept boost --how 'by phone' --by D-01 --date 2026-06-08 --json",
    "plan accept boost --how again", "plan quote boost --anew",
    "plan set boost induction.boost.target_gauge='11 psi'", "plan quote boost --units metric",
    "set induction.boost.relief_gauge='11 psi'", "record -m relief --date 2026-06-09",
    "plan show boost", "plan adopt boost",
    "record -m 'more boost' --date 2026-06-10 --odometer '90000 mi'", "plan quote boost",
    *both("report latest", "diff plan:boost latest"), "diff stage-2 plan:boost",
]  # fmt: skip
DUES = [
    *both("due list"), "due add 'engine oil' --every '5000 mi or 12 months' --last-on 2025-08-01 "
    "--last-at '86000 mi'", "due add extinguisher --every '2 years' --last-on 2024-07-01",
    "due add bolts --every '20 passes' --last-on 2026-05-01", "due add bolts --every often",
    "due add plugs --every '12000 mi' --part ignition.plugs",
    "due reading '89600 mi' --passes 22 --date 2026-06-09 --source photo", "due reading",
    *both("due list"), "due list --units metric", "next",
    "due done exting --date 2026-06-09 --by D-02",
    "due done brakes", "record -m 'what comes due' --date 2026-06-10", *both("shop list .. --due"),
    "shop calendar ../out/due.ics .. --json", "shop calendar ../out/due.txt ..",
    *both("waiting list"), "waiting add 'clutch disc' --for part --since 2026-06-01 "
    "--expected 2026-06-20 --date 2026-06-10 --note 'ordered twice' --by D-02",
    "waiting add 'word of the owner' --for go-ahead --date 2026-06-10", "waiting done",
    "waiting add x --for nothing", *both("waiting list", "next"),
    "record -m 'what it waits for' --date 2026-06-10", *both("shop list .."), "shop list .. --full",
    "waiting done disc --date 2026-06-12", "waiting done brakes", *both("waiting list"),
]  # fmt: skip
SIGNING = "BUILDLOG_CONFIG=../in/signing.toml"
KEYS = [
    "key add 'bench 1'", "key add 'bench 1' --key ../in/key-1", *both("key list", "verify"),
    "verify --signers ../in/key-1.pub", "set tyres.pressure='2.4 bar'",
    "record -m pressure --sign", f"{SIGNING} record -m pressure --sign", f"{SIGNING} verify",
    "key add 'bench 2' --public ../in/key-2.pub --key ../in/key-1",
    "key rotate 'bench 3' --to ../in/key-3 --key ../in/key-1",
    "key retire 'bench 2' --reason 'laptop sold' --key ../in/key-3", *both("key list"),
    "key compromised 'bench 1' --last-good 13 --key ../in/key-3", "key list",
    "verify --signers ../in/key-3.pub", "history --full",
]  # fmt: skip
SYNCED = [
    "sync ../stick --dry-run", "sync ../stick", *both("sync ../stick"),
    "receive ../demo.bundle ../second", "receive ../demo.bundle ../second",
    "receive ../in/log.txt ../third", "receive ../nowhere ../third",
    "set tyres.pressure='2.4 bar' --ledger ../second",
    "record -m 'second laptop' --ledger ../second", "set tyres.pressure='2.3 bar'",
    "record -m 'first laptop'", "sync ../stick", "sync ../stick --ledger ../second",
    "sync ../stick --take theirs --json --ledger ../second", "sync ../stick", "history --full",
    "verify",
]  # fmt: skip
GIVEN = [
    "handover ../out/given --no-pdf --to 'the next owner' --odometer '90210 mi' --note 'two keys'",
    "handover ../out/given --no-pdf",
    "history --full",
    "verify ../out/given.zip",
    "receive ../out/given.zip ../shop/tern",
    "history --ledger ../shop/tern",
    f"{SIGNING} receive ../out/given ../shop/other --sign --json",
    "verify ../shop/other",
    "shop list ../shop",
]

OPTIONS = [
    "new ../third --name Third --vin 0MTBA26A7RS004417",
    "check --found --answers ../in/answers.toml --date 2026-06-07 --odometer '89560 mi'",
    "record -m 'as found' --kind found --odometer '89560 mi' --date 2026-06-07",
    "fault add 'ticking' --part engine --odometer '89570 mi' --note 'cold only' --date 2026-06-07",
    "record -m ticking --odometer '89570 mi' --date 2026-06-07",
    "fault close ticking --remedy 'plug renewed' --cause 'loose plug' --note torqued "
    "--date 2026-06-08",
    "fault close engine --remedy 'plug renewed' --cause 'loose plug' --note torqued "
    "--date 2026-06-08",
    "record -m mended --resolves 15 --odometer '89580 mi' --date 2026-06-08",
    "checklist start hand-back --date 2026-06-08",
    "checklist tick wheel-nuts --result pass --date 2026-06-09",
    "torque add 'turbine flange' --count 4 --torque '35 N*m' --note again --date 2026-06-09 "
    "--retorque-of 2026-06-02-turbine-flange --odometer '89590 mi'",
    "record -m 'new instruments' --odometer '12 mi' --date 2026-06-09",
    "record -m 'new instruments' --odometer '12 mi' --odometer-note 'new cluster' "
    "--date 2026-06-09",
    *both("history"),
    f"dyno add ../in/log.txt --session log {SAID} --altitude '120 m' --lockup locked --driven "
    "'two rollers' --drum-inertia '40 kg*m^2' --roller-circumference '2.51 m' --boost-control "
    "spring --strapping 'four straps' --fuel-kind gasoline --ethanol-content '10 percent' "
    "--leave-out Lambda --one-run --keep --odometer '30 mi' --json",
    "dyno add ../in/told.txt --session told --date 2026-06-09",
    "dyno add ../in/told.txt --session taken --take-conditions --configuration 9",
    "dyno sheet taken",
    "set tyres.pressure='2.4 bar'",
    "record -m measured --odometer '30 mi'",
    "record -m measured --odometer '30 mi' --session-is-new-configuration",
    "verify --paper TVVA-20CJ-D70G-W6P3-9BQF-29",
    "verify --paper TVVA-20CJ-D70G-W6P3-9BQF-28",
    "key add 'bench 1' --key ../in/key-1",
    "key add 'bench 2' --restart --reason 'laptop lost' --key ../in/key-2",
    "key add 'bench 3' --public ../in/key-3.pub --reason 'a second' --key ../in/key-2",
    "key compromised 'bench 3' --last-good 18 --reason stolen --key ../in/key-2",
    "key compromised 'bench 3' --last-good 21 --reason stolen --key ../in/key-2",
    "key list",
    "plan new boost",
    "sync ../stick --with-plans",
    f"{SIGNING} receive ../demo.bundle ../taken --sign --odometer '90000 mi'",
    "handover ../out/given --dry-run --paper a4",
    "shop list .. --remote ../in/sites.txt --patience 5",
    "shop list .. --remote ../in/none.txt",
    "dyno coast ../in/drum.csv --drum-inertia '335 kg*m^2' --roller-circumference '3.4 m' "
    "--map road_speed=V:km/h",
]
DEMO = ["demo ../again", "demo ../again"]


def explained() -> list[str]:
    """`explain` of every name that it offers."""
    import json
    import shlex

    from tests.golden.play import call

    offered = json.loads(call("explain --json")[1])
    names = [name for held in offered.values() if isinstance(held, list) for name in held]
    return [*both("explain"), *both(*(f"explain {shlex.quote(name)}" for name in names)),
            "explain clutch torque", "explain nonsense"]  # fmt: skip


def leaves() -> list[tuple[str, click.Command]]:
    """Every command that is no group, by its words."""
    return [(name, one) for name, one in commands() if not isinstance(one, click.Group)]


def commands() -> list[tuple[str, click.Command]]:
    """Every command and every group, by its words."""
    from buildlog.cli.main import cli

    def below(group: click.Group, before: str) -> Iterator[tuple[str, click.Command]]:
        for name in group.list_commands(click.Context(group)):
            found = group.get_command(click.Context(group), name)
            assert found is not None
            yield before + name, found
            if isinstance(found, click.Group):
                yield from below(found, f"{before}{name} ")

    return list(below(cli, ""))


def helped() -> list[str]:
    """`--help` of every command, the schemas and the completion scripts."""
    files = (
        "car",
        "session",
        "check",
        "checklist",
        "fault",
        "torque",
        "torque-sheet",
        "handover",
        "plan",
    )
    return ["--help", "--version", "nonsense", "", *[f"{name} --help" for name, _ in commands()],
            "schema", *[f"schema {name}" for name in (*files, "nothing")],
            *[f"completion {shell}" for shell in ("bash", "zsh", "fish")]]  # fmt: skip


def elsewhere() -> list[str]:
    """Every command that reads or writes a ledger, sent to one that is not there."""
    found = []
    for name, one in leaves():
        given = [a.type.choices[0] if isinstance(a.type, click.Choice) else "x=1"
                 for a in one.params if isinstance(a, click.Argument) and a.required]  # fmt: skip
        if any("--ledger" in option.opts for option in one.params):
            found.append(" ".join([name, *map(str, given), "--ledger ../nowhere"]))
    return found


# Those that end in "-more" take longest. All of them are compared in the long set.
GROUPS: dict[str, Callable[[], list[str]]] = {
    "help": helped,
    "explain": explained,
    "elsewhere": elsewhere,
    "history": lambda: HISTORY,
    "show": lambda: SHOW,
    "diff": lambda: DIFF,
    "diff-more": lambda: DIFF_MORE,
    "dyno": lambda: DYNO,
    "dyno-more": lambda: DYNO_MORE,
    "predict": lambda: PREDICT,
    "predict-more": lambda: PREDICT_MORE,
    "margins": lambda: MARGINS,
    "margins-more": lambda: MARGINS_MORE,
    "headroom": lambda: HEADROOM,
    "headroom-more": lambda: HEADROOM_MORE,
    "workshop": lambda: WORKSHOP,
    "shop": lambda: SHOP,
    "report": lambda: REPORT,
    "report-more": lambda: REPORT_MORE,
    "plot": lambda: PLOT,
    "plot-more": lambda: PLOT_MORE,
    "new": lambda: NEW,
    "record": lambda: RECORD,
    "checking": lambda: CHECKING,
    "added": lambda: ADDED,
    "planned": lambda: PLANNED,
    "planned-more": lambda: PLANNED_MORE,
    "promised": lambda: PROMISED,
    "dues": lambda: DUES,
    "keys": lambda: KEYS,
    "synced": lambda: SYNCED,
    "given": lambda: GIVEN,
    "options-more": lambda: OPTIONS,
    "demo-more": lambda: DEMO,
}
