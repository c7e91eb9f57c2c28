"""The channels a raw file can carry: what each measures, and the words that head its column.

Words are lower case without accents, in English, German and French, with the trade's abbreviations
(common practice, no source). A word that stands in two channels is decided by the unit, or asked.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Channel:
    """A named quantity: the dimensions it may be given in and the words that head it."""

    name: str
    dimensions: tuple[str, ...]
    words: frozenset[str]


def _channel(name: str, dimensions: str, words: str) -> Channel:
    every = {word.strip() for word in words.split(",")} | {name.replace("_", " ")}
    return Channel(name, tuple(dimensions.split()), frozenset(every))


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


CHANNELS: dict[str, Channel] = {
    channel.name: channel
    for channel in (
        _channel(
            "time",
            "time",
            "t, zeit, messzeit, temps, elapsed, elapsed time, timestamp",
        ),
        _channel(
            "engine_speed",
            "angular_speed",
            "rpm, engine rpm, motor rpm, revs, n, nmot, n mot, n motor, eng speed, eng spd, "
            "speed, motordrehzahl, drehzahl, regime, regime moteur, vitesse moteur, tours, "
            "crank speed, erpm, engine revs",
        ),
        _channel(
            "road_speed",
            "speed",
            "speed, v, vss, vehicle speed, wheel speed, car speed, velocity, ground speed, "
            "geschwindigkeit, fahrgeschwindigkeit, fahrzeuggeschwindigkeit, vfzg, v fzg, "
            "vitesse, vitesse vehicule, kmh, mph, gps speed",
        ),
        _channel(
            "roller_speed",
            "angular_speed speed",
            "roller, roller rpm, drum speed, drum rpm, roll speed, rolle, rollendrehzahl, n "
            "rolle, rollengeschwindigkeit, v rolle, vitesse rouleau, vitesse rouleaux, "
            "rouleau",
        ),
        _channel(
            "hub_speed",
            "angular_speed",
            "hub rpm, nabendrehzahl, vitesse moyeu, n nabe",
        ),
        _channel(
            "distance",
            "length",
            "dist, weg, strecke, s weg",
        ),
        _channel(
            "power",
            "power",
            "p, pwr, hp, ps, kw, ch, whp, bhp, output, leistung, radleistung, motorleistung, "
            "puissance, power output, rad, p rad, p mot, horsepower, pferdestarken",
        ),
        _channel(
            "power_front",
            "power",
            "p front, front, leistung va, leistung vorn, p vorn, p va, puissance avant, front "
            "axle power, leistung vorderachse, p av",
        ),
        _channel(
            "power_rear",
            "power",
            "p rear, rear, leistung ha, leistung hinten, p hinten, p ha, puissance arriere, "
            "rear axle power, leistung hinterachse, p ar",
        ),
        _channel(
            "power_loss",
            "power",
            "p loss, loss, losses, drag power, coast down power, verlustleistung, "
            "schleppleistung, p verlust, p schlepp, puissance perdue, pertes, parasitic loss, "
            "drag, friction power",
        ),
        _channel(
            "torque",
            "torque",
            "tq, trq, m, md, moment, drehmoment, motormoment, raddrehmoment, radmoment, "
            "couple, nm, lb-ft, ftlb, couple moteur, m rad, m mot",
        ),
        _channel(
            "tractive_force",
            "force",
            "tractive effort, force, zugkraft, effort, f zug",
        ),
        _channel(
            "air_fuel_ratio",
            "ratio",
            "afr, a/f, air fuel, air/fuel, air fuel ratio, air/fuel ratio, wideband, wbo2, "
            "luft kraftstoff verhaltnis, kraftstoffverhaltnis, rapport air carburant, wb afr, "
            "rapport air/carburant",
        ),
        _channel(
            "lambda",
            "ratio",
            "λ, lam, lambdawert, lambda sonde, lbd, wideband, wbo2",
        ),
        _channel(
            "boost",
            "pressure",
            "boost pressure, boost gauge, boost press, gauge boost, ladeuberdruck, uberdruck, "
            "ladedruck, p lade, pression de suralimentation, pression turbo, suralimentation",
        ),
        _channel(
            "manifold_pressure",
            "pressure",
            "map, manifold, manifold absolute pressure, manifold press, inlet pressure, "
            "saugrohrdruck, ladedruck absolut, ladedruck abs, p saug, pression collecteur, "
            "pression admission, pression d'admission, boost absolute, boost abs, intake "
            "pressure",
        ),
        _channel(
            "spark",
            "angle",
            "ignition, ignition timing, ignition advance, ign, ign adv, ign timing, timing, "
            "spark advance, spark timing, advance, zundung, zundwinkel, zundzeitpunkt, zzp, "
            "avance, avance allumage, avance a l'allumage",
        ),
        _channel(
            "knock_retard",
            "angle",
            "kr, knock, knock ret, knock correction, klopfruckzug, klopfregelung, "
            "zundruckzug, retrait cliquetis, cliquetis, retrait d'allumage",
        ),
        _channel(
            "intake_temperature",
            "temperature",
            "iat, intake air temperature, intake air temp, inlet temp, inlet air temp, air "
            "intake, intake temp, intake, ansauglufttemperatur, ansaugluft, ansaugtemperatur, "
            "t ansaug, temperature d'admission, temperature admission, temp admission, temp. "
            "admission",
        ),
        _channel(
            "charge_temperature",
            "temperature",
            "charge temp, charge air temp, charge air temperature, post cooler temp, "
            "ladeluft, ladelufttemperatur, t lade, t ladeluft, temperature air suralimente",
        ),
        _channel(
            "coolant_temperature",
            "temperature",
            "ect, clt, coolant, coolant temp, water, water temp, water temperature, engine "
            "temp, kuhlmittel, kuhlmitteltemperatur, kuhlwasser, kuhlwassertemperatur, "
            "wassertemperatur, motortemperatur, t wasser, t mot, temperature d'eau, "
            "temperature eau, temp eau, temperature moteur, liquide de refroidissement",
        ),
        _channel(
            "oil_temperature",
            "temperature",
            "oil temp, oil t, oltemperatur, oeltemperatur, t ol, t oel, temperature d'huile, "
            "temperature huile, temp huile, oil, ol, huile",
        ),
        _channel(
            "oil_pressure",
            "pressure",
            "oil press, oil p, oldruck, oeldruck, p ol, p oel, pression d'huile, pression "
            "huile, oil, ol, huile",
        ),
        _channel(
            "fuel_pressure",
            "pressure",
            "fuel press, fp, rail pressure, fuel rail pressure, kraftstoffdruck, benzindruck, "
            "raildruck, pression d'essence, pression essence, pression carburant",
        ),
        _channel(
            "fuel_flow",
            "volume_flow mass_flow",
            "kraftstoffverbrauch, kraftstoffmenge, debit carburant, fuel rate",
        ),
        _channel(
            "mass_air_flow",
            "mass_flow",
            "maf, air flow, airflow, luftmasse, luftmassenstrom, debit d'air, debit air, mass "
            "airflow",
        ),
        _channel(
            "throttle",
            "ratio",
            "tps, tp, throttle position, throttle pos, thr, drosselklappe, dk, "
            "drosselklappenwinkel, papillon, position papillon, ouverture papillon",
        ),
        _channel(
            "pedal",
            "ratio",
            "pedal position, app, accelerator, accelerator pedal, gaspedal, fahrpedal, "
            "pedale, accelerateur",
        ),
        _channel(
            "injector_duty",
            "ratio",
            "idc, duty, duty cycle, injector duty cycle, inj duty, einspritz tastverhaltnis, "
            "tastverhaltnis, rapport cyclique, inj dc",
        ),
        _channel(
            "injector_pulse_width",
            "time",
            "pw, ipw, pulse width, inj pw, injection time, einspritzzeit, temps d'injection, "
            "temps injection",
        ),
        _channel(
            "ambient_temperature",
            "temperature",
            "ambient, ambient temp, air temp, air temperature, room temp, room temperature, "
            "cell temperature, cell temp, umgebungstemperatur, lufttemperatur, "
            "raumtemperatur, hallentemperatur, t luft, t umgebung, temperature ambiante, "
            "temperature air, temperature de l'air, temperature, temp, temperatur",
        ),
        _channel(
            "ambient_pressure",
            "pressure",
            "baro, barometer, barometric pressure, barometric, atmospheric pressure, air "
            "pressure, ambient press, station pressure, luftdruck, umgebungsdruck, p luft, "
            "barometerstand, pression atmospherique, pression ambiante, pression barometrique",
        ),
        _channel(
            "humidity",
            "ratio",
            "rh, rel humidity, relative humidity, hum, feuchte, luftfeuchte, "
            "luftfeuchtigkeit, rel luftfeuchte, relative luftfeuchte, humidite, humidite "
            "relative, hygrometrie, rel. luftfeuchtigkeit",
        ),
        _channel(
            "exhaust_temperature",
            "temperature",
            "egt, exhaust gas temp, exhaust temp, exhaust gas temperature, abgastemperatur, "
            "abgas, t abgas, temp echappement, temperature echappement, temperature "
            "d'echappement",
        ),
        _channel(
            "exhaust_back_pressure",
            "pressure",
            "back pressure, backpressure, ebp, exhaust pressure, abgasgegendruck, contre "
            "pression, emap",
        ),
        _channel(
            "compressor_speed",
            "angular_speed",
            "turbo speed, turbo rpm, turbine speed, laderdrehzahl, turboladerdrehzahl, "
            "vitesse turbo, regime turbo",
        ),
        _channel(
            "gear",
            "ratio",
            "gear number, gang, ganganzeige, gear position, rapport engage",
        ),
        _channel(
            "acceleration",
            "acceleration",
            "accel, acc, beschleunigung, a langs, g langs",
        ),
        _channel(
            "battery_voltage",
            "voltage",
            "battery, batt, vbat, batteriespannung, bordspannung, tension batterie, ubatt",
        ),
        _channel(
            "run_number",
            "ratio",
            "run, run no, run number, pull, pull no, lauf, lauf nr, messung, messung nr, "
            "essai, passage",
        ),
    )
}

# Words that only qualify: taken out before a header is looked up, and kept as a remark.
WHEEL = _words(
    "wheel wheels at-wheels rad raeder rader roue roues tyre tyres hub hubs radleistung rwhp whp"
    " raddrehmoment radmoment rollers"
)
CRANK = _words(
    "crank crankshaft engine motor flywheel fly moteur mot kurbel kupplung motorleistung"
    " motormoment bhp vilebrequin"
)
CORRECTED = _words(
    "corrected corr cor korrigiert korr corrige corrigee sae din ece iso std cf norm"
)
OBSERVED = _words(
    "observed obs uncorrected uncorr unc raw measured unkorrigiert gemessen mess roh brute brut"
    " mesuree mesure actual"
)
TARGET = _words(
    "target targets desired demand demanded commanded cmd set setpoint soll sollwert vorgabe"
    " consigne goal limit error"
)
FILLER = _words(
    "at the in of sensor value wert mean avg average mittel moyenne signal channel kanal der"
    " die des de la le du d l filtered smoothed"
    " abs absolute absolut rel relative relativ gauge #"
)
