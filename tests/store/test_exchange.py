"""Case files in and out: lossless, merged where both sides changed, and nobody's work overwritten."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from tests.case.test_case_fuzz import instances
from tests.store.conftest import ADA, BO, case_of, with_parts
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, load_folder, save_case
from vibdiag.files.errors import InputError
from vibdiag.files.shipped import shipped_folder
from vibdiag.merging.plain import case_of as read_plain
from vibdiag.merging.plain import from_text, plain, to_text
from vibdiag.store.exchange import Exchanged, export_folder, import_files
from vibdiag.store.recordings import kept_files
from vibdiag.store.store import CaseStore, open_store


def take_in(store: CaseStore, *paths: Path) -> list[Exchanged]:
    return list(import_files(store, paths, BO))


def outcomes(results: list[Exchanged]) -> list[str]:
    return sorted({one.outcome for one in results})


def problem(results: list[Exchanged]) -> str:
    (told,) = [one.problem for one in results if one.problem]
    assert "\n" not in told
    return told


@pytest.fixture
def file(tmp_path: Path) -> Path:
    folder = tmp_path / "cases"
    folder.mkdir()
    path = folder / "invented.yaml"
    save_case(case_of(title="old"), path)
    return path


def test_what_went_in_comes_out(store: CaseStore, tmp_path: Path, demos: list[Case]) -> None:
    results = take_in(store, shipped_folder("cases"))
    assert outcomes(results) == ["new"]
    assert len(results) == len(demos)
    assert outcomes(list(export_folder(store, tmp_path / "out"))) == ["written"]
    back = {case.id: case for _, case in load_folder(tmp_path / "out")}
    assert back == {case.id: case for case in demos}


def test_the_real_cases_too(store: CaseStore, tmp_path: Path) -> None:
    folder = Path(__file__).parents[1] / "real_cases"
    take_in(store, folder)
    list(export_folder(store, tmp_path / "out"))
    assert {case.id: case for _, case in load_folder(tmp_path / "out")} == {
        case.id: case for _, case in load_folder(folder)
    }


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=instances(Case))
def test_any_case_reads_back_from_the_text_the_store_keeps(case: Case) -> None:
    assert read_plain(from_text(to_text(plain(case)))) == case


def test_twice_is_once(store: CaseStore, file: Path, tmp_path: Path) -> None:
    assert outcomes(take_in(store, file.parent)) == ["new"]
    assert outcomes(take_in(store, file)) == ["unchanged"]
    assert len(store.history("invented")) == 1
    assert outcomes(list(export_folder(store, tmp_path / "out"))) == ["written"]
    assert outcomes(list(export_folder(store, tmp_path / "out"))) == ["unchanged"]


def test_a_file_changed_by_hand_is_merged_on_the_version_it_was_made_from(
    store: CaseStore, file: Path, tmp_path: Path
) -> None:
    take_in(store, file)
    version = store.save(with_parts(store.read("invented"), title="new"), store.read("invented"), ADA).version
    list(export_folder(store, tmp_path / "out"))
    out = tmp_path / "out" / "invented.yaml"
    store.save(with_parts(version, vehicle={"driven": "rear"}), version, ADA)
    out.write_text(out.read_text(encoding="utf-8") + "notes: by hand\n", encoding="utf-8")
    assert outcomes(take_in(store, out)) == ["changed"]
    case = store.read("invented").case
    assert (case.title, case.vehicle.driven, case.notes) == ("new", "rear", "by hand")
    entry = store.history("invented")[-1]
    assert (entry.who, entry.what, [one.field for one in entry.changes]) == ("Bo", "imported invented.yaml", ["notes"])


def test_a_file_without_that_line_is_merged_on_the_last_import(store: CaseStore, file: Path) -> None:
    take_in(store, file)
    base = store.read("invented")
    store.save(with_parts(base, vehicle={"driven": "rear"}), base, ADA)
    save_case(case_of(title="old", notes="by hand"), file)
    assert outcomes(take_in(store, file)) == ["changed"]
    case = store.read("invented").case
    assert (case.vehicle.driven, case.notes) == ("rear", "by hand")


def test_a_conflict_refuses_the_file_and_the_store_stays(store: CaseStore, file: Path) -> None:
    take_in(store, file)
    base = store.read("invented")
    store.save(with_parts(base, title="Ada's"), base, ADA)
    save_case(case_of(title="by hand"), file)
    assert "title: Ada has Ada's, you have by hand" in problem(take_in(store, file))
    assert store.read("invented").case.title == "Ada's"


def test_an_older_version_changes_nothing(store: CaseStore, file: Path) -> None:
    take_in(store, file)
    base = store.read("invented")
    store.save(with_parts(base, title="new"), base, ADA)
    assert outcomes(take_in(store, file)) == ["older"]
    assert store.read("invented").case.title == "new"


def test_a_file_of_a_case_that_never_was_a_file_is_refused(store: CaseStore, file: Path) -> None:
    store.create(case_of(title="another"), ADA)
    assert "give the file another id" in problem(take_in(store, file))


def test_two_files_of_one_id_are_not_one_case(store: CaseStore, file: Path) -> None:
    save_case(case_of(title="twin"), file.with_name("twin.yaml"))
    results = take_in(store, file.parent)
    assert "same id 'invented' as invented.yaml" in problem(results)
    assert store.read("invented").case.title == "old"


def test_a_broken_file_is_told_and_the_others_are_taken(store: CaseStore, file: Path) -> None:
    file.with_name("broken.yaml").write_text("vibdiag_case: 1\nid: [\n", encoding="utf-8")
    results = take_in(store, file.parent)
    assert "broken.yaml:" in problem(results)
    assert outcomes(results) == ["new", "refused"]
    assert "cannot be read" in problem(take_in(store, file.with_name("missing.yaml")))
    empty = file.parent / "empty"
    empty.mkdir()
    with pytest.raises(InputError, match="holds no case file"):
        take_in(store, empty)


def test_export_leaves_alone_what_the_store_does_not_know(store: CaseStore, file: Path) -> None:
    """Also when the file has another name than the case."""
    take_in(store, file)
    renamed = file.rename(file.with_name("another-name.yaml"))
    base = store.read("invented")
    store.save(with_parts(base, title="new"), base, ADA)
    save_case(case_of(title="by hand"), renamed)
    assert "import it first" in problem(list(export_folder(store, file.parent)))
    save_case(case_of(title="old"), renamed)
    assert outcomes(list(export_folder(store, file.parent))) == ["written"]
    assert load_case(renamed).title == "new"
    assert not file.exists()
    renamed.write_text("not a case", encoding="utf-8")
    renamed.rename(file)
    assert "import it first" in problem(list(export_folder(store, file.parent)))
    assert file.read_text(encoding="utf-8") == "not a case"


def test_recordings_travel_with_their_case(store: CaseStore, file: Path, tmp_path: Path) -> None:
    (file.parent / "before").mkdir()
    (file.parent / "before" / "seat.csv").write_bytes(b"0,1\n" * 500_000)
    save_case(case_of(attachments=[{"path": "before/seat.csv"}, {"path": "elsewhere.csv"}]), file)
    (result,) = take_in(store, file)
    assert result.recordings == 1
    out = tmp_path / "out"
    (written,) = export_folder(store, out)
    assert written.recordings == 1
    assert (out / "before" / "seat.csv").read_bytes() == b"0,1\n" * 500_000
    assert load_case(out / "invented.yaml") == load_case(file)
    (out / "before" / "seat.csv").write_bytes(b"another")
    assert "another file 'before/seat.csv'" in problem(list(export_folder(store, out)))
    assert (out / "before" / "seat.csv").read_bytes() == b"another"


@pytest.mark.parametrize("how", ["up", "absolute", "link"])
def test_a_case_file_cannot_reach_out_of_its_folder(store: CaseStore, file: Path, tmp_path: Path, how: str) -> None:
    """Neither to take a file in that is none of its business, nor to write one."""
    secret = tmp_path / "secret.txt"
    secret.write_text("secret", encoding="utf-8")
    path = {"up": "../secret.txt", "absolute": str(secret), "link": "link.txt"}[how]
    if how == "link":
        (file.parent / "link.txt").symlink_to(secret)
    save_case(case_of(attachments=[{"path": path}]), file)
    (result,) = take_in(store, file)
    assert (result.outcome, result.recordings) == ("new", 0)
    assert kept_files(store, "invented") == ()


def test_from_one_store_to_another_by_files(place: str, file: Path, tmp_path: Path) -> None:
    with open_store(place) as first, open_store(str(tmp_path / "second.db")) as second:
        take_in(first, file)
        list(export_folder(first, tmp_path / "out"))
        assert outcomes(take_in(second, tmp_path / "out")) == ["new"]
        assert second.read("invented").case == first.read("invented").case
