"""Twenty invented yachts that no band was made from: do the bands of a short file hold?

Each yacht is drawn here from wide, independent ranges (common practice, no source), by
formulas that the estimates do not use. Her full file is planned on the sample's sea, and
a short one with eleven numbers of it: length, beam, draught, roll period, area of a fin,
and three speeds with their fuel. Counted is how often the full file's fuel and roll lie
within the bands of the short one. All data are invented.

    python docs/tools/held_back_yachts.py [COUNT]
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_forecasts"
FORECASTS = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]
G_M_S2 = 9.80665
SEED, COUNT = 20, 20


def numbers(rng: np.random.Generator) -> dict[str, float]:
    """One yacht: what a shipyard would know of her."""
    between = rng.uniform
    length = between(28.0, 62.0)
    beam = length / between(4.3, 5.6)
    draught = beam / between(2.9, 3.8)
    displacement = 1.025 * between(0.41, 0.55) * length * beam * draught
    gm = between(0.08, 0.16) * beam
    # Radius of gyration with added mass, 0.37 to 0.43 of the beam.
    period = 2.0 * np.pi * between(0.37, 0.43) * beam / np.sqrt(G_M_S2 * gm)
    froude = np.sqrt(G_M_S2 * length) / 0.514444
    cruise = between(0.27, 0.33) * froude
    # Power with speed cubed and a bit more, by the admiralty coefficient.
    rate = displacement ** (2.0 / 3.0) * cruise**3 / between(110.0, 170.0) * 0.215 / 0.845
    steep = between(3.0, 4.0)
    speeds = [round(f * cruise, 1) for f in (0.7, 1.0, 1.15)]
    return {
        "length": length, "beam": beam, "draught": draught, "displacement": displacement,
        "gm": gm, "period": period, "v": speeds,
        "q": [rate * 0.7355 * (v / cruise) ** steep for v in speeds],
        "fin_area": between(0.010, 0.018) * length * draught, "aspect": between(0.7, 1.3),
        "lever": between(0.37, 0.47) * beam, "angle": between(20.0, 27.0),
        "rate": between(15.0, 35.0), "gain": between(3.0, 6.5),
        "damping": between(0.02, 0.05), "per_kn": between(0.0015, 0.0035),
        "quadratic": between(0.08, 0.25), "efficiency": between(0.50, 0.60),
        "specific": between(205.0, 225.0), "hotel": between(0.025, 0.06) * displacement,
        "frontal": between(0.65, 1.0) * beam**2, "lateral": between(0.55, 0.95) * length * beam,
        "kg": between(0.95, 1.3) * draught,
    }  # fmt: skip


def short_text(y: dict) -> str:
    """Eleven numbers of her, beside the name."""
    return f"""[vessel]
name = "Held back"
length_waterline_m = {y["length"]:.1f}
beam_waterline_m = {y["beam"]:.1f}
draught_m = {y["draught"]:.2f}
[roll]
natural_period_s = {y["period"]:.1f}
[[fins]]
area_m2 = {y["fin_area"]:.2f}
[propulsion]
speed_kn = {[float(v) for v in y["v"]]}
fuel_l_per_h = {[round(float(q), 1) for q in y["q"]]}
"""


def full_text(y: dict) -> str:
    """All that was drawn of her."""
    return f"""[vessel]
name = "Held back"
length_waterline_m = {y["length"]:.3f}
beam_waterline_m = {y["beam"]:.3f}
draught_m = {y["draught"]:.3f}
displacement_t = {y["displacement"]:.2f}
gm_m = {y["gm"]:.4f}
kg_m = {y["kg"]:.3f}
[roll]
natural_period_s = {y["period"]:.3f}
damping_ratio = {y["damping"]:.4f}
damping_ratio_per_kn = {y["per_kn"]:.5f}
quadratic_damping = {y["quadratic"]:.4f}
[[fins]]
area_m2 = {y["fin_area"]:.3f}
aspect_ratio = {y["aspect"]:.3f}
lever_m = {y["lever"]:.3f}
max_angle_deg = {y["angle"]:.2f}
max_rate_deg_s = {y["rate"]:.2f}
rate_gain_s = {y["gain"]:.3f}
reference_speed_kn = {y["v"][1]}
[propulsion]
speed_kn = {[float(v) for v in y["v"]]}
fuel_l_per_h = {[round(float(q), 3) for q in y["q"]]}
propulsive_efficiency = {y["efficiency"]:.4f}
specific_fuel_g_per_kwh = {y["specific"]:.2f}
[hotel]
generator_l_per_h = {y["hotel"]:.2f}
[windage]
frontal_area_m2 = {y["frontal"]:.2f}
lateral_area_m2 = {y["lateral"]:.2f}
lateral_centroid_above_waterline_m = {0.42 * y["beam"]:.2f}
"""


def answers(text: str, speed_kn: float) -> dict[str, np.ndarray]:
    """Fuel and roll, rms, of each leg with their bands; the plan's own numbers."""
    from passage.inputs.vessel import vessel_from_text
    from passage.planning.plan.plan import plan_files
    from passage.planning.voyage.prepare import PlanOptions

    made = plan_files(
        SAMPLES / "direct.csv",
        vessel_from_text(text),
        FORECASTS,
        PlanOptions(departure_s=1773468000.0, speed_kn=speed_kn, minutes=60.0),
    )
    names = ("fuel_l", "fuel_low_l", "fuel_high_l", "roll_active_rms_deg",
             "roll_active_low_rms_deg", "roll_active_high_rms_deg")  # fmt: skip
    return {name: np.array([leg[name] for leg in made.legs], float) for name in names}


def held(count: int = COUNT, seed: int = SEED) -> list[dict]:
    """A row a yacht: the full file's fuel and roll, the short one's with its bands."""
    rng = np.random.default_rng(seed)
    rows = []
    for number in range(1, count + 1):
        yacht = numbers(rng)
        full, short = (answers(text(yacht), yacht["v"][1]) for text in (full_text, short_text))
        fuel = [float(np.sum(short[f"fuel{end}_l"])) for end in ("_low", "", "_high")]
        rows.append(
            {
                "yacht": number,
                "length_m": yacht["length"],
                "fuel_l": float(np.sum(full["fuel_l"])),
                "fuel_band_l": fuel,
                "fuel_within": fuel[0] <= float(np.sum(full["fuel_l"])) <= fuel[2],
                "roll_deg": full["roll_active_rms_deg"],
                "roll_band_deg": [
                    short[f"roll_active{end}_rms_deg"] for end in ("_low", "", "_high")
                ],
                "roll_within": (short["roll_active_low_rms_deg"] <= full["roll_active_rms_deg"])
                & (full["roll_active_rms_deg"] <= short["roll_active_high_rms_deg"]),
            }
        )
    return rows


def shares(rows: list[dict]) -> tuple[float, float]:
    """Share of yachts whose fuel, and of their legs whose roll, lies within. [%]"""
    fuel = np.mean([row["fuel_within"] for row in rows])
    roll = np.mean(np.concatenate([row["roll_within"] for row in rows]))
    return 100.0 * float(fuel), 100.0 * float(roll)


def main() -> None:
    """Print the rows and the shares."""
    rows = held(int(sys.argv[1]) if len(sys.argv) > 1 else COUNT)
    for row in rows:
        low, middle, high = row["fuel_band_l"]
        rolls = "; ".join(
            f"{r:.1f} ({a:.1f} {b:.1f} {c:.1f}){'' if ok else '*'}"
            for r, a, b, c, ok in zip(
                row["roll_deg"], *row["roll_band_deg"], row["roll_within"], strict=True
            )
        )
        mark = "" if row["fuel_within"] else "*"
        sys.stdout.write(
            f"{row['yacht']:2d} {row['length_m']:5.1f} m  fuel {row['fuel_l']:6.0f} l "
            f"({low:.0f} {middle:.0f} {high:.0f}){mark}  roll {rolls}\n"
        )
    fuel, roll = shares(rows)
    sys.stdout.write(
        f"within the bands: fuel {fuel:.0f} % of yachts, roll {roll:.0f} % of their legs\n"
    )


if __name__ == "__main__":
    main()
