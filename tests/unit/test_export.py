"""Exports read back with meshio: cells, fields and the water they hold."""

import xml.etree.ElementTree as ET

import meshio
import numpy as np
import pytest

from console import call
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl_post.exporting.export import export
from synthetic import write_result


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return read_result(write_result(tmp_path_factory.mktemp("export") / "run.h5", frames=3))


def test_every_cell_that_is_not_cut_comes_back_with_its_fields(result, tmp_path):
    export(result, tmp_path / "one.vtu", frame=-1)
    assert [file.name for file in tmp_path.iterdir()] == ["one.vtu"]
    mesh, fields = meshio.read(tmp_path / "one.vtu"), result.frames.fields(2)
    whole = result.grid["open_fraction"] == 1.0
    assert mesh.cells[0].type == "quad"
    assert len(mesh.cells[0]) == np.count_nonzero(whole)
    assert mesh.cell_data["pressure"][0] == pytest.approx(fields["pressure"][whole])
    velocity = mesh.cell_data["velocity"][0]
    assert velocity[:, 0] == pytest.approx(fields["u_r"][whole])
    assert velocity[:, 2] == pytest.approx(fields["u_z"][whole])
    r_c = mesh.points[mesh.cells[0].data][:, :, 0].mean(axis=1)
    centres = (result.grid["r_f"][1:] + result.grid["r_f"][:-1]) / 2
    assert r_c == pytest.approx(np.broadcast_to(centres[:, None], whole.shape)[whole])


def test_the_index_names_every_file_with_its_time(result, tmp_path):
    export(result, tmp_path / "run.vtu")
    entries = list(ET.parse(tmp_path / "run.pvd").iter("DataSet"))
    assert [float(entry.attrib["timestep"]) for entry in entries] == pytest.approx(result.frames.t)
    assert all((tmp_path / entry.attrib["file"]).is_file() for entry in entries)


def test_a_time_series_beside_its_result_leaves_the_result_alone(result, tmp_path):
    source = tmp_path / "run.h5"
    source.write_bytes(result.path.read_bytes())
    export(read_result(source), tmp_path / "run.xdmf")
    assert source.read_bytes() == result.path.read_bytes()
    with meshio.xdmf.TimeSeriesReader(tmp_path / "run.xdmf") as reader:
        points, cells = reader.read_points_cells()
        t, _, data = reader.read_data(2)
    assert t == pytest.approx(result.frames.t[2])
    assert [block.type for block in cells] == ["quad", "triangle"]
    assert max(block.data.max() for block in cells) == len(points) - 1
    whole = result.grid["open_fraction"] == 1.0
    assert data["pressure"][0] == pytest.approx(result.frames.fields(2)["pressure"][whole])
    assert len(data["pressure"][1]) == len(cells[1])


@pytest.mark.parametrize(
    ("name", "frame", "message"),
    [
        ("run.obj", None, r"\.csv or \.vtu or \.xdmf"),
        ("none/run.vtu", None, "does not exist"),
        ("run.vtu", 3, "has frames 0 to 2"),
        ("run.csv", 0, "a table has no frames"),
    ],
)
def test_wrong_wishes_are_refused_and_leave_nothing(result, tmp_path, name, frame, message):
    with pytest.raises(ResultError, match=message):
        export(result, tmp_path / name, frame)
    assert list(tmp_path.iterdir()) == []


def test_an_export_that_breaks_off_leaves_nothing(result, tmp_path, monkeypatch):
    def full(*_: object, **__: object) -> None:
        (tmp_path / "seen").touch()
        raise OSError("no space left")

    monkeypatch.setattr(meshio.xdmf.TimeSeriesWriter, "write_data", full)
    with pytest.raises(ResultError, match="no space"):
        export(result, tmp_path / "run.xdmf")
    assert [file.name for file in tmp_path.iterdir()] == ["seen"]


def test_the_command_says_what_it_wrote(result, tmp_path, capsys):
    assert call("export", result.path, "-o", tmp_path / "run.vtu") == 0
    assert "3 frames in run.pvd and 3 more files" in capsys.readouterr().out
