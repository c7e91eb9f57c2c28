"""A prediction as the JSON that other programs rely on: SI numbers, units in the keys."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from buildlog.analysis.prediction.learned import PastPredictions
from buildlog.analysis.prediction.predicted import Predicted, PredictionBand
from buildlog.report.as_json.json_parts import version_json


def predicted_json(result: Predicted) -> dict[str, Any]:
    """The block that `diff` and `predict` share; power is a delta in W."""
    raw, parts = result.raw, result.raw.attribution
    figures = {
        "peak_power": {"unit": "W", **band_json(result.peak_power_delta)},
        "peak_power_ratio": band_json(result.ratio),
        "peak_wheel_power_w": band_json(result.peak_power),
        "mean_wheel_power_w": band_json(result.mean_power),
        "peak_wheel_torque_nm": band_json(result.peak_torque),
        "peak_crank_power_w": band_json(result.peak_crank_power),
        "raw": {
            "peak_power": {"unit": "W", **band_json(raw.peak_power_delta)},
            "peak_power_ratio": band_json(raw.peak_power_ratio),
        },
    }
    return {
        "anchored_to": result.start.session,
        "measured_anchor": result.start.measured,
        "basis": result.start.words,
        "standard": result.start.standard,
        "at": result.start.at,
        "air": {
            "pressure_pa": result.day.pressure,
            "temperature_k": result.day.temperature,
            "vapour_pressure_pa": result.day.vapour_pressure,
        },
        "draws": result.draws,
        **(dict.fromkeys(figures) if result.unpredictable else figures),
        "not_predictable": result.unpredictable,
        "learned": {**asdict(result.learned), "cars": result.learned_cars}
        if result.learned
        else None,
        "structures": {name: band_json(band) for name, band in raw.structures.items()},
        "attribution": [
            {"change": s.name, "assembly": s.assembly, "delta": s.delta, "alone": s.alone}
            for s in parts.shares
        ],
        "attribution_sum_w": parts.total,
        "attribution_of": "raw.peak_power" if result.learned else "peak_power",
        "interaction_w": parts.interaction,
        "interaction_share": parts.interaction_share,
        "dominant_inputs": [
            {"name": d.name, "share": d.share, "ratio_width_if_known": d.width_if_known}
            for d in raw.dominant
        ],
        "assumed": [asdict(one) for one in result.assumed],
        "notes": list(result.notes),
        "not_covered": list(result.not_covered),
        "not_covered_beside": list(result.beside),
        "beyond": list(raw.beyond),
        "force_ratio": result.force_ratio,
        "measured_lies": asdict(result.lies) if result.lies else None,
        "measured_torque_lies": asdict(result.torque_lies) if result.torque_lies else None,
    }


def prediction_json(result: Predicted) -> dict[str, Any]:
    """The body of `predict --json`."""
    curve = result.curve
    return {
        "from": version_json(result.before),
        "to": version_json(result.after),
        **predicted_json(result),
        "not_learned_from": list(result.not_learned_from),
        "curve": {
            "axis": "engine_speed",
            "axis_unit": "rpm",
            "unit": "W",
            "grid": [round(float(x), 6) for x in result.start.rpm],
            "p10": curve.p10.tolist(),
            "p50": curve.p50.tolist(),
            "p90": curve.p90.tolist(),
            "mean": curve.mean.tolist(),
        },
    }


def band_json(band: PredictionBand) -> dict[str, float]:
    """P10, P50, P90 and mean."""
    return {"p10": band.p10, "p50": band.p50, "p90": band.p90, "mean": band.mean}


def back_test_json(found: PastPredictions) -> dict[str, Any]:
    """The body of `predict --back-test --json`."""
    return {
        "kinds": [
            {
                "kind": one.kind,
                "raw": asdict(one.raw),
                "adjusted": asdict(one.adjusted),
                "learned": asdict(one.learned),
            }
            for one in found.kinds
        ],
        "stages": [
            {
                "car": stage.car,
                "from": stage.before,
                "to": stage.after,
                "date": stage.date.isoformat(),
                "kind": stage.kind,
                "inside": stage.result.inside,
                **asdict(stage.result),
            }
            for stage in found.past
        ],
        "not_counted": list(found.left_out),
    }
