"""Response functions from a NetCDF file: conventions, refusals and the kernel."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from passage.errors import VesselError
from passage.inputs.records.response_file import read_response_file
from passage.physics.motions.places import vertical_motion_kernel
from passage.physics.motions.response_table import response_kernel
from passage.physics.motions.vertical_motion import HullForm, closed_form_motion

HULL = HullForm(length_m=45.0, beam_m=9.0, draught_m=2.8, block_coefficient=0.482)
OMEGA = np.linspace(0.25, 2.6, 95)
MU = np.deg2rad(np.arange(0.0, 181.0, 5.0))


def made_file(
    path,
    *,
    time_factor="exp(+i omega t)",
    zero="following",
    pitch="bow up",
    omega=OMEGA,
    mu=MU,
    units="rad",
    midship=0.0,
    speeds=(0.0,),
    attrs=True,
    change=None,
):
    """A file with the closed-form motions of the hull, written in the given conventions."""
    response = np.empty((len(speeds), omega.size, mu.size, 2), dtype=complex)
    wave_mu = mu if zero == "following" else np.pi - mu
    for i, speed in enumerate(speeds):
        motion = closed_form_motion(omega[:, None], wave_mu, speed, HULL)
        to_origin = np.exp(-1j * omega[:, None] ** 2 / 9.80665 * np.cos(wave_mu) * midship)
        response[i, :, :, 0] = (motion.heave - midship * motion.pitch) * to_origin
        response[i, :, :, 1] = motion.pitch * to_origin
    if pitch == "bow down":
        response[..., 1] *= -1
    if time_factor == "exp(-i omega t)":
        response = response.conj()
    data = xr.Dataset(
        {
            "RAO": (
                ("complex", "forward_speed", "omega", "wave_direction", "radiating_dof"),
                np.stack([response.real, response.imag]),
            )
        },
        coords={
            "complex": ["re", "im"],
            "forward_speed": list(speeds),
            "omega": omega,
            "wave_direction": (
                "wave_direction",
                np.rad2deg(mu) if units == "degree" else mu,
                {"units": units} if units else {},
            ),
            "radiating_dof": ["Heave", "Pitch"],
        },
    )
    if attrs:
        data.attrs = {
            "time_factor": time_factor,
            "wave_direction_zero": zero,
            "pitch_positive": pitch,
            "midship_x_m": midship,
        }
    if change is not None:
        data = change(data)
    data.to_netcdf(path)
    return path


@pytest.mark.parametrize("time_factor", ["exp(+i omega t)", "exp(-i omega t)"])
@pytest.mark.parametrize("zero", ["following", "head"])
@pytest.mark.parametrize("pitch", ["bow up", "bow down"])
@pytest.mark.parametrize(("units", "midship"), [("rad", 0.0), ("degree", 22.0)])
def test_every_convention_leads_to_the_same_motions(
    tmp_path, time_factor, zero, pitch, units, midship
):
    path = made_file(
        tmp_path / "hull.nc",
        time_factor=time_factor,
        zero=zero,
        pitch=pitch,
        units=units,
        midship=midship,
    )
    table = read_response_file(path, HULL).table
    motion = closed_form_motion(OMEGA[:, None], MU, 0.0, HULL)
    assert np.allclose(table(OMEGA[:, None], MU, 0.0).heave, motion.heave, atol=1e-9)
    assert np.allclose(table(OMEGA[:, None], MU, 0.0).pitch, motion.pitch, atol=1e-9)


def test_kernel_from_the_file_agrees_with_the_one_it_was_made_from(tmp_path):
    grid_omega, grid_mu = np.linspace(0.25, 2.6, 236), np.deg2rad(np.arange(0.0, 181.0, 2.0))
    path = made_file(tmp_path / "hull.nc", speeds=(0.0, 6.0), omega=grid_omega, mu=grid_mu)
    table = read_response_file(path, HULL).table
    where = {"places_x_m": (0.0, 15.0), "stations_x_m": (15.75,)}
    own = response_kernel(table, **where)
    closed = replace(
        vertical_motion_kernel(
            length_m=45.0, beam_m=9.0, draught_m=2.8, block_coefficient=0.482, **where
        ),
        rough_phase=False,
    )
    assert own.channel_names == closed.channel_names
    # Halfway between grid points, at both speeds and to both sides.
    omega = 0.5 * (grid_omega[:-1] + grid_omega[1:])
    mu = np.deg2rad(np.arange(-179.0, 180.0, 2.0))
    for speed in (0.0, 6.0):
        a, b = own(omega, mu, speed), closed(omega, mu, speed)
        # Linear interpolation over 0.01 rad/s and 2 degrees, against each channel's peak.
        error = np.max(np.abs(a - b), axis=(1, 2)) / np.max(b, axis=(1, 2))
        assert np.all(error < 0.02)


def test_long_waves_below_the_table_go_to_the_known_limit(tmp_path):
    table = read_response_file(made_file(tmp_path / "hull.nc"), HULL).table
    motion = table(0.05, np.pi, 0.0)
    k = 0.05**2 / 9.80665
    assert motion.heave == pytest.approx(1.0, abs=0.01)
    assert motion.pitch == pytest.approx(1j * k, abs=0.02 * k)


def test_short_waves_beyond_the_table_are_noted(tmp_path):
    read = read_response_file(made_file(tmp_path / "hull.nc"), HULL)
    assert read.table(3.0, np.pi, 0.0).heave == 0.0
    assert any("shorter than 9 m" in note for note in read.notes)  # 2 pi g / 2.6^2


def test_speeds_outside_the_table_give_nan(tmp_path):
    table = read_response_file(made_file(tmp_path / "hull.nc"), HULL).table
    assert np.isnan(table(0.8, np.pi, 6.0).heave)
    assert not np.isnan(table(0.8, np.pi, 0.2).heave)
    assert np.isnan(table(np.nan, np.pi, 0.0).heave)
    assert np.isnan(table(0.8, np.nan, 0.0).pitch)
    assert not table.covers(np.nan)


def test_a_file_over_the_whole_circle_is_folded(tmp_path):
    mu = np.deg2rad(np.arange(0.0, 361.0, 10.0))
    table = read_response_file(made_file(tmp_path / "hull.nc", mu=mu), HULL).table
    assert table.mu_rad == pytest.approx(np.deg2rad(np.arange(0.0, 181.0, 10.0)), rel=1e-6)


def test_responses_follow_from_matrices_and_forces(tmp_path):
    """One mass on a spring: x = F/(k - w^2 (m + a) - i w b), worked by hand."""
    omega, mu = OMEGA, MU[::6]
    wanted = closed_form_motion(omega[:, None], mu, 0.0, HULL)
    dofs = ["Heave", "Pitch"]
    mass, added, damping, spring = (np.diag(v) for v in ([5.0, 7], [2.0, 3], [1.0, 4], [9.0, 8]))
    matrix = (
        -(omega[:, None, None] ** 2) * (mass + added) - 1j * omega[:, None, None] * damping + spring
    )
    motion = np.stack([wanted.heave.conj(), -wanted.pitch.conj()], axis=-1)
    force = np.einsum("wij,wmj->wmi", matrix, motion)
    dims = ("omega", "influenced_dof", "radiating_dof")
    data = xr.Dataset(
        {
            "inertia_matrix": (dims[1:], mass),
            "hydrostatic_stiffness": (dims[1:], spring),
            "added_mass": (dims, np.broadcast_to(added, matrix.shape)),
            "radiation_damping": (dims, np.broadcast_to(damping, matrix.shape)),
            "excitation_force": (
                ("complex", "omega", "wave_direction", "influenced_dof"),
                np.stack([force.real, force.imag]),
            ),
        },
        coords={
            "complex": ["re", "im"],
            "omega": omega,
            "wave_direction": ("wave_direction", mu, {"units": "rad"}),
            "influenced_dof": dofs,
            "radiating_dof": dofs,
            "water_depth": 60.0,
        },
        attrs={
            "time_factor": "exp(-i omega t)",
            "wave_direction_zero": "following",
            "pitch_positive": "bow down",
        },
    )
    data.to_netcdf(tmp_path / "bem.nc")
    read = read_response_file(tmp_path / "bem.nc", HULL)
    assert np.allclose(read.table.heave[0], wanted.heave, atol=1e-9)
    assert np.allclose(read.table.pitch[0], wanted.pitch, atol=1e-9)
    assert any("60 m of water" in note for note in read.notes)
    data.drop_vars("inertia_matrix").to_netcdf(tmp_path / "lacking.nc")
    with pytest.raises(VesselError, match="lacks inertia_matrix"):
        read_response_file(tmp_path / "lacking.nc", HULL)
    data.assign_coords(forward_speed=6.0).to_netcdf(tmp_path / "speed.nc")
    with pytest.raises(VesselError, match="at forward speed without the responses"):
        read_response_file(tmp_path / "speed.nc", HULL)


def set_heave(value):
    def change(data):
        data["RAO"].loc[{"radiating_dof": "Heave"}] = value
        return data

    return change


def flip_pitch(data):
    data["RAO"].loc[{"radiating_dof": "Pitch"}] *= -1
    return data


def pitch_in_degrees(data):
    data["RAO"].loc[{"radiating_dof": "Pitch"}] *= 180 / np.pi
    return data


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"units": ""}, "the unit of wave_direction is not stated"),
        ({"units": "gon"}, "the unit of wave_direction is 'gon'"),
        ({"omega": np.linspace(0.9, 2.6, 60)}, "hull lengths"),
        ({"omega": np.linspace(0.25, 1.2, 60)}, "hull lengths"),
        ({"omega": np.linspace(0.25, 2.6, 5)}, "5 frequencies"),
        ({"mu": np.deg2rad([80.0, 85.0, 90.0, 95.0, 100.0])}, "from 80 to 100 deg"),
        ({"change": set_heave(np.nan)}, "some responses are not numbers"),
        ({"change": set_heave(5.0)}, "every hull follows the wave"),
        ({"change": flip_pitch}, "opposite sign to the wave slope"),
        ({"change": pitch_in_degrees}, "57.* of the wave slope"),
        ({"change": lambda d: d.sel(radiating_dof=["Heave"])}, "has no pitch"),
        ({"change": lambda d: d.rename(omega="frequency")}, "has no coordinate omega"),
        ({"change": lambda d: d.rename(RAO="motions")}, "holds no motion responses"),
        ({"change": lambda d: d.rename(radiating_dof="motion")}, "must name the motions"),
        ({"change": lambda d: d.expand_dims(hull_number=[1, 2])}, "more than one value along"),
    ],
)
def test_what_is_wrong_is_reported(tmp_path, options, says):
    path = made_file(tmp_path / "hull.nc", **options)
    with pytest.raises(VesselError, match=says) as caught:
        read_response_file(path, HULL)
    assert str(caught.value).startswith(f"{path}:")


def test_unknown_conventions_are_refused_all_at_once(tmp_path):
    path = made_file(tmp_path / "hull.nc", attrs=False)
    with pytest.raises(VesselError) as caught:
        read_response_file(path, HULL)
    text = str(caught.value)
    for key in ("time_factor", "wave_direction_zero", "pitch_positive"):
        assert f"the convention {key} is not stated" in text
    assert '"following" or "head"' in text


def test_a_convention_that_is_not_known_is_refused(tmp_path):
    def change(data):
        data.attrs["wave_direction_zero"] = "north"
        return data

    path = made_file(tmp_path / "hull.nc", change=change)
    with pytest.raises(VesselError, match="wave_direction_zero is 'north', which is not known"):
        read_response_file(path, HULL)


def test_a_file_that_is_no_netcdf_is_refused(tmp_path):
    path = tmp_path / "hull.nc"
    path.write_text("not a NetCDF file")
    with pytest.raises(VesselError, match="cannot be read as NetCDF"):
        read_response_file(path, HULL)
    with pytest.raises(VesselError, match="cannot be read as NetCDF"):
        read_response_file(tmp_path / "absent.nc", HULL)
