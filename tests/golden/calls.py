"""What the program is asked, group by group; each group begins with a fresh copy of the demo."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

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
    "show --at engine.boer", "show --at car.vin", "show nothing", "show 99", "show a4642391",
]  # fmt: skip
DIFF = [
    *both("diff", "diff first latest"),
    *[f"diff {a} {b}" for a, b in PAIRS],
    *[f"diff {a} {b} --json" for a, b in STEPS],
    "diff latest working", "diff latest first", "diff 5 7", "diff stage-1 stage-2 --full",
    *units("diff stage-1 stage-2"), "diff stage-1 stage-2 --standard DIN",
    "diff stage-1 stage-2 --strict", "diff stage-1 nothing", "diff stage-1 stage-1",
    "diff stage-1 stage-2 --standard nonsense",
]  # fmt: skip
DIFF_MORE = [
    *both("diff latest working", "diff latest first", "diff 5 7"),
    *[f"diff {a} {b}" for a, b in ORDERED if (a, b) not in PAIRS],
    *[f"diff {a} {b} --full" for a, b in ORDERED if STAGES.index(a) < STAGES.index(b)],
    *[f"diff {a} {b} --json" for a, b in PAIRS if (a, b) not in STEPS],
    *units("diff stage-1 stage-2 --full"),
    "diff stage-1 stage-2 --standard none --full",
    *[f"diff {n} {n + 1}" for n in range(1, 13)],
]
DYNO = [
    *both("dyno sheet", *[f"dyno sheet {one}" for one in SESSIONS]),
    *[f"dyno sheet {one} --full" for one in SESSIONS], *units("dyno sheet"),
    "dyno sheet --standard none", "dyno sheet --strict", "dyno sheet nothing",
    *[f"dyno compare {a} {b}" for a, b in PAIRS], "dyno compare stage-1 stage-2 --json",
    *both("dyno relate R1 R2"), "dyno relate R1 R9",
    *both("dyno coast ../in/coast-1.csv ../in/coast-2.csv --mass '1500 kg'"),
    "dyno coast ../in/coast-1.csv --mass '1500 kg'",
    "dyno coast ../in/blind.csv --mass '1500 kg'", "dyno coast ../in/coast-1.csv",
]  # fmt: skip
DYNO_MORE = [
    *[f"dyno sheet {one} --full --json" for one in SESSIONS], *units("dyno sheet --full"),
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
    "predict stage-1 stage-2 --full --units metric",
    "predict stage-1 stage-2 --air-temperature '35 degC' --altitude '1500 m'",
    "predict stage-1 stage-2 --shop ..",
]
PREDICT_MORE = [
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
HEADROOM = [*both("headroom"), "headroom stage-1", "headroom stage-2 --full --units metric"]
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
    "checklist show nothing", "attach nothing.jpg", "pack --json",
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
    "report", "report stage-2", "report stage-1 --full", "report stage-1 --json",
    "report stage-1 stage-2", "report nothing", "report stage-2 --out ../out/sheet.html",
    "handover ../out/given --dry-run", "handover ../out/given --dry-run --json",
]  # fmt: skip
REPORT_MORE = [
    "report stage-2 --full",
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


def explained() -> list[str]:
    """`explain` of every name that it offers."""
    import json
    import shlex

    from tests.golden.play import call

    offered = json.loads(call("explain --json")[1])
    names = [name for held in offered.values() if isinstance(held, list) for name in held]
    return [*both("explain"), *both(*(f"explain {shlex.quote(name)}" for name in names)),
            "explain clutch torque", "explain nonsense"]  # fmt: skip


def helped() -> list[str]:
    """`--help` of every command, the schemas and the completion scripts."""
    import click

    from buildlog.cli.main import cli

    def below(group: click.Group, before: str) -> Iterator[str]:
        for name in group.list_commands(click.Context(group)):
            found = group.get_command(click.Context(group), name)
            yield f"{before}{name} --help"
            if isinstance(found, click.Group):
                yield from below(found, f"{before}{name} ")

    files = ("car", "session", "check", "checklist", "fault", "torque", "handover", "plan")
    return ["--help", "--version", "nonsense", "", *below(cli, ""), "schema",
            *[f"schema {name}" for name in (*files, "nothing")],
            *[f"completion {shell}" for shell in ("bash", "zsh", "fish")]]  # fmt: skip


# Those that end in "-more" take long: they are compared in the long set.
GROUPS: dict[str, Callable[[], list[str]]] = {
    "help": helped,
    "explain": explained,
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
}
