"""Response functions of heave and pitch from the owner's NetCDF file.

Boundary-element tools write such files with named dimensions: ``omega``,
``wave_direction`` and the names of the degrees of freedom, complex numbers as a
dimension ``complex`` with ``re`` and ``im``. Either the responses are in the file,
or the matrices and forces they follow from. Conventions differ from tool to
tool, so a file must say its own, and the long-wave limits are used to check them.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.errors import Problem, VesselError, join_problems
from passage.files import why_not_plain
from passage.inputs.probe import LeadsOutside, reason_not_to_open
from passage.inputs.records.response_check import check_responses
from passage.physics.motions.response_table import ResponseTable
from passage.physics.motions.vertical_motion import HullForm
from passage.units import G_M_S2, deg_to_rad

ComplexArray = NDArray[np.complex128]

#: Responses of one hull take a few megabytes; something larger is another file.
MAX_BYTES = 200_000_000
#: Names under which tools store motion responses.
RESPONSE_NAMES = ("RAO", "rao", "response", "motion_response")
#: Attributes that state the conventions, and what each may say.
CONVENTIONS: dict[str, tuple[str, ...]] = {
    "time_factor": ("exp(-i omega t)", "exp(+i omega t)"),
    "wave_direction_zero": ("following", "head"),
    "pitch_positive": ("bow down", "bow up"),
}
#: What a file with the attribute ``capytaine_version`` means, bow towards +x.
_CAPYTAINE = {
    "time_factor": "exp(-i omega t)",
    "wave_direction_zero": "following",
    "pitch_positive": "bow down",
}


@dataclass(frozen=True, kw_only=True, eq=False)
class ResponseFile:
    """What was read: the table, and words for the plan's notes."""

    path: Path
    table: ResponseTable
    notes: tuple[str, ...]


class _Refused(Exception):
    """Why reading stopped, for one message."""

    def __init__(self, what: str, fix: str, place: str = "") -> None:
        super().__init__(what)
        self.what, self.fix, self.place = what, fix, place


def read_response_file(path: Path | str, hull: HullForm) -> ResponseFile:
    """Read heave and pitch responses of the hull.

    Parameters
    ----------
    path : Path
        NetCDF file. Attributes (of the file or of the response variable):
        ``time_factor``, ``wave_direction_zero``, ``pitch_positive`` (see
        ``CONVENTIONS``), optional ``midship_x_m`` (x of midship in the file's axes, default
        0), ``rotation_centre_x_m`` (default 0). ``wave_direction`` needs a unit.
    hull : HullForm
        To judge how far the frequencies reach.

    Returns
    -------
    ResponseFile

    Raises
    ------
    VesselError
        Unreadable, conventions not stated, or numbers that contradict them; all
        problems that can be seen at once.
    """
    import xarray as xr

    path = Path(path)
    text = _why_not_opened(path)
    if text:
        raise VesselError(str(Problem(file=str(path), what=text)))
    try:
        with xr.open_dataset(path) as opened:
            dataset = opened.load()
    except Exception as err:  # every library fault becomes one sentence
        text = f"cannot be read as NetCDF ({type(err).__name__})"
        fix = "Give the NetCDF file that the boundary-element tool wrote."
        raise VesselError(str(Problem(file=str(path), what=text, fix=fix))) from err

    problems: list[Problem] = []
    conventions = _conventions(dataset, path, problems)
    notes: list[str] = []
    try:
        table = _table(dataset, hull, conventions, path, problems, notes)
    except _Refused as stop:
        problems.append(Problem(file=str(path), place=stop.place, what=stop.what, fix=stop.fix))
    except Exception as err:  # dimensions or kinds of values that no such file has
        text = f"does not hold together as response functions ({type(err).__name__})"
        problems.append(Problem(file=str(path), what=text, fix="Write it again with the tool."))
    if problems:
        raise VesselError(join_problems(problems))
    return ResponseFile(path=path, table=table, notes=tuple(notes))


def _why_not_opened(path: Path) -> str:
    """Why the library must not be given this file, or nothing."""
    try:
        if path.is_dir():
            return "is a folder, not a NetCDF file"
        if reason := why_not_plain(path) or reason_not_to_open(path):
            return reason
    except LeadsOutside as err:
        return f"does not hold all its data itself: {err}. Ask for it whole, as one file"
    except OSError as err:
        return f"cannot be read ({err.strerror})"
    try:
        large = path.is_file() and path.stat().st_size > MAX_BYTES
    except OSError as err:
        return f"cannot be read ({err.strerror})"
    return f"is over {MAX_BYTES // 1_000_000} MB, which no such file is" if large else ""


def _conventions(dataset: Any, path: Path, problems: list[Problem]) -> dict[str, str]:
    """The stated conventions, a problem for each that is missing or not understood."""
    attributes = dict(dataset.attrs)
    for name in RESPONSE_NAMES:
        if name in dataset:
            attributes.update(dataset[name].attrs)
    known = _CAPYTAINE if "capytaine_version" in attributes else {}
    found: dict[str, str] = {}
    for key, allowed in CONVENTIONS.items():
        value = attributes.get(key, known.get(key))
        if value in allowed:
            found[key] = str(value)
            continue
        stated = "is not stated" if value is None else f"is {value!r}, which is not known"
        choice = " or ".join(f'"{word}"' for word in allowed)
        problems.append(
            Problem(
                file=str(path),
                place=key,
                what=f"the convention {key} {stated}",
                fix=f"Set the file's attribute {key} to {choice}.",
            )
        )
    return found


def _response(dataset: Any, sign: float) -> Any:
    """The complex response, dims (..., omega, wave_direction, dof), from file or matrices."""
    for name in RESPONSE_NAMES:
        if name in dataset:
            response = _complex(dataset[name])
            dof = [d for d in response.dims if str(d).endswith("dof")]
            if len(dof) != 1:
                raise _Refused(
                    f"its dimensions are {', '.join(map(str, response.dims))}",
                    "One dimension must name the motions (radiating_dof, influenced_dof or dof).",
                    name,
                )
            return response.rename({dof[0]: "dof"})
    return _solve(dataset, sign)


def _complex(values: Any) -> Any:
    """A complex array from one stored with a ``complex`` dimension; others unchanged."""
    if "complex" in values.dims:
        return values.sel(complex="re", drop=True) + 1j * values.sel(complex="im", drop=True)
    return values


def _solve(dataset: Any, sign: float) -> Any:
    """Responses from added mass, damping, stiffness, inertia and exciting force.

    ``sign`` is that of the time factor exp(sign i omega t).
    """
    import xarray as xr

    needed = ("added_mass", "radiation_damping", "inertia_matrix", "hydrostatic_stiffness")
    missing = [name for name in needed if name not in dataset]
    force = next((n for n in ("excitation_force",) if n in dataset), None)
    if force is None and {"diffraction_force", "Froude_Krylov_force"} <= set(dataset):
        exciting = _complex(dataset["diffraction_force"]) + _complex(dataset["Froude_Krylov_force"])
    elif force is None:
        missing.append("excitation_force")
    else:
        exciting = _complex(dataset[force])
    if missing:
        raise _Refused(
            f"holds no motion responses ({', '.join(RESPONSE_NAMES)}) and lacks "
            f"{', '.join(missing)} to work them out",
            "Store the responses, or inertia and stiffness beside the hydrodynamics.",
        )
    if "forward_speed" in dataset.dims or float(dataset.get("forward_speed", 0.0)) != 0.0:
        raise _Refused(
            "forces at forward speed without the responses themselves",
            "Let the tool work out the responses at speed and store them.",
            "forward_speed",
        )
    omega = dataset["omega"]
    matrix = (
        -(omega**2) * (dataset["inertia_matrix"] + dataset["added_mass"])
        + sign * 1j * omega * dataset["radiation_damping"]
        + dataset["hydrostatic_stiffness"]
    ).transpose("omega", "influenced_dof", "radiating_dof")
    right = exciting.sel(influenced_dof=matrix["influenced_dof"]).transpose(
        "omega", "influenced_dof", "wave_direction"
    )
    solved = np.linalg.solve(matrix.values, right.values)
    return xr.DataArray(
        solved,
        dims=("omega", "dof", "wave_direction"),
        coords={
            "omega": omega.values,
            "dof": matrix["radiating_dof"].values,
            "wave_direction": dataset["wave_direction"],
        },
    )


def _table(
    dataset: Any,
    hull: HullForm,
    conventions: dict[str, str],
    path: Path,
    problems: list[Problem],
    notes: list[str],
) -> ResponseTable:
    """The table in our conventions; raises ``_Refused`` or adds problems."""
    for name in ("omega", "wave_direction"):
        if name not in dataset.coords:
            raise _Refused(
                f"has no coordinate {name}", "Name the dimensions omega and wave_direction.", name
            )
    if conventions.keys() != CONVENTIONS.keys():
        # Without the conventions nothing below can be judged; they are reported already.
        raise _Refused("was not read further", "State the conventions first.")
    minus = conventions["time_factor"] == "exp(-i omega t)"
    response = _response(dataset, -1.0 if minus else 1.0)
    names = {str(name).lower(): name for name in response["dof"].values}
    lacking = [name for name in ("heave", "pitch") if name not in names]
    if lacking:
        raise _Refused(
            f"has no {' and no '.join(lacking)} among {', '.join(map(str, names.values()))}",
            "Name the motions Heave and Pitch.",
            "dof",
        )
    if "forward_speed" not in response.dims:
        speed = float(dataset.get("forward_speed", 0.0))
        response = response.drop_vars("forward_speed", errors="ignore").expand_dims(
            forward_speed=[speed]
        )
    mu = _angles(dataset["wave_direction"], conventions["wave_direction_zero"])
    response = response.assign_coords(wave_direction=mu)
    # The hull is the same to both sides: the starboard half is enough, and 0 and 360 are one.
    _, first = np.unique(np.round(mu, 6), return_index=True)
    response = response.isel(wave_direction=[i for i in first if mu[i] >= -1e-6])
    response = response.sortby("omega").sortby("wave_direction").sortby("forward_speed")
    extra = [
        d
        for d in response.dims
        if d not in ("forward_speed", "omega", "wave_direction", "dof") and response.sizes[d] > 1
    ]
    if extra:
        raise _Refused(
            f"has more than one value along {', '.join(map(str, extra))}",
            "Store the responses of one hull in one depth of water.",
        )
    response = response.squeeze(
        [d for d in response.dims if d not in ("forward_speed", "omega", "wave_direction", "dof")],
        drop=True,
    ).transpose("forward_speed", "omega", "wave_direction", "dof")

    heave = np.array(response.sel(dof=names["heave"]).values, dtype=complex)
    pitch = np.array(response.sel(dof=names["pitch"]).values, dtype=complex)
    if minus:
        heave, pitch = heave.conj(), pitch.conj()
    if conventions["pitch_positive"] == "bow down":
        pitch = -pitch
    omega = np.asarray(response["omega"].values, dtype=float)
    angles = np.asarray(response["wave_direction"].values, dtype=float)
    wavenumber = omega**2 / G_M_S2
    midship = float(dataset.attrs.get("midship_x_m", 0.0))
    centre = float(dataset.attrs.get("rotation_centre_x_m", 0.0))
    # Heave is that of the rotation centre, and the wave's phase counts from x = 0.
    heave = heave + (midship - centre) * pitch
    turn = np.exp(1j * wavenumber[:, None] * np.cos(angles) * midship)
    check_responses(omega, angles, heave * turn, pitch * turn, hull, path, problems)
    if "midship_x_m" not in dataset.attrs:
        notes.append("response file: midship taken at x = 0 of its axes (no midship_x_m)")
    depth = float(np.max(dataset.get("water_depth", np.inf)))
    if np.isfinite(depth):
        notes.append(f"response file: made for {depth:.0f} m of water, used everywhere")
    notes.append(
        f"response file: waves shorter than {2 * np.pi / wavenumber[-1]:.0f} m do not move her"
    )
    return ResponseTable(
        speed_m_s=np.asarray(response["forward_speed"].values, dtype=float),
        omega_rad_s=omega,
        mu_rad=np.clip(angles, 0.0, np.pi),
        heave=heave * turn,
        pitch=pitch * turn,
        hull=hull,
    )


def _angles(direction: Any, zero: str) -> Any:
    """Encounter angle in (-pi, pi], 0 following, from the file's direction with its unit."""
    unit = str(direction.attrs.get("units", "")).lower()
    values = np.asarray(direction.values, dtype=float)
    if unit in ("deg", "degree", "degrees"):
        values = deg_to_rad(values)
    elif unit not in ("rad", "radian", "radians"):
        stated = f"is {unit!r}" if unit else "is not stated"
        raise _Refused(
            f"the unit of wave_direction {stated}",
            'Set its attribute units to "rad" or "degree".',
            "wave_direction",
        )
    mu = values if zero == "following" else np.pi - values
    return np.pi - np.mod(np.pi - mu + 1e-9, 2.0 * np.pi) + 1e-9
