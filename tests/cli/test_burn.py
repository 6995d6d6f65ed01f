"""``pourwright burn`` and ``pourwright panel``: answers for programs, and refusals in one line."""

import io
import json
import re
from pathlib import Path

import pytest

from pourwright.cli.main import run

PAGE = Path(__file__).resolve().parents[2] / "docs" / "burn-file.md"
BURNS, SEARCH = re.findall(r"^```toml\n(.*?)^```$", PAGE.read_text("utf-8"), re.M | re.S)
RANKS = "assessor,Fig,Bay,Cedar\n1,1,2,3\n2,1,3,2\n3,1,2.5,2.5\n"


@pytest.fixture
def file(tmp_path):
    def written(text):
        path = tmp_path / "given"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return written


def answer(capsys, *words):
    status = run([*words, "--json"])
    out, err = capsys.readouterr()
    assert (status, err) == (0, "")
    return json.loads(out)


def refused(capsys, *words):
    assert run(list(words)) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    return err


# --- burn verdict --------------------------------------------------------------------------------


def test_the_documented_burn_is_judged(capsys, file):
    found = answer(capsys, "burn", "verdict", file(BURNS))
    assert found["verdict"] == "warn"
    [finding] = found["burns"][0]["findings"]
    assert (finding["key"], finding["house"]) == ("wall", True)
    assert found["series"]["state"] == "not complete"
    assert not found["series"]["passed"]


def test_a_flame_too_high_fails_and_names_the_standard(capsys, file):
    text = BURNS.replace("flame_mm = 22", "flame_mm = [22, 75.01]")
    found = answer(capsys, "burn", "verdict", file(text))
    assert found["verdict"] == "fail"
    assert found["burns"][0]["findings"][0]["edition"].startswith("EN 15493")


def test_pieces_have_their_burns_by_name(capsys, file):
    text = "[candle]\ninside_diameter_mm = 72\n" + "".join(
        f'[[piece]]\nname = "{name}"\n[[piece.burn]]\nminutes = 30\n[[piece.burn]]\nrelit = true\n'
        for name in "AB"
    )
    found = answer(capsys, "burn", "verdict", file(text))
    assert [(b["piece"], b["burn"]) for b in found["burns"]] == [
        ("A", 1), ("A", 2), ("B", 1), ("B", 2)
    ]  # fmt: skip
    assert found["series"]["state"] == "failed"
    assert "verdict" not in found
    assert run(["burn", "verdict", file(text)]) == 0
    assert "FAILED" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("was", "becomes", "told"),
    [
        ("inside_diameter_mm = 72", "inside_diameter = 72", "inside_diameter_mm"),
        ("wall_warn_c = 55", "wall_warn_c = 65", "laxer"),
        ("wall_warn_c = 55", "wall = 65", "no house limit"),
        ("minute = 120", "minute = 20", "in order of time"),
        ("minutes = 240", 'minutes = "four hours"', "no number"),
        ("relit = false", "relit = 0", "neither true nor false"),
        ("soot = 0", "soot = 4", "0 none to 3 thick"),
        ("[[burn]]", "[[burns]]", "burns"),
        ("on = 2026-11-20", "on = yesterday", "not TOML"),
        ("minutes = 240", "minutes = 1e400", "not a number that a burn has"),
    ],
)
def test_a_faulty_document_is_refused_with_its_place(capsys, file, was, becomes, told):
    assert was in BURNS
    assert told in refused(capsys, "burn", "verdict", file(BURNS.replace(was, becomes)))


def test_a_file_that_is_not_there(capsys, tmp_path):
    assert "cannot be read" in refused(capsys, "burn", "verdict", str(tmp_path / "none.toml"))


# --- burn next -----------------------------------------------------------------------------------


def test_the_documented_search_steps_up(capsys, file):
    """Size no. 5 did not fill the pool, so that a larger one is proposed."""
    found = answer(capsys, "burn", "next", file(SEARCH))
    assert found["state"] == "burn"
    assert found["propose"][0]["size"] in ("no. 6", "no. 7")
    assert 1 <= len(found["propose"]) <= 2
    by_size = {chance["size"]: chance for chance in found["chances"]}
    assert by_size["no. 4"]["share"] < by_size["no. 5"]["share"] < by_size["no. 6"]["share"]
    assert (by_size["no. 5"]["burns"], by_size["no. 5"]["met"]) == (1, 0)
    assert "no chance of safety" in " ".join(found["says"])


@pytest.mark.parametrize(
    ("was", "becomes", "told"),
    [
        ('search = "Quince tumbler"', 'search = "Quince jar"', "Quince jar"),
        ('size = "no. 5"', 'size = "no. 9"', "no. 9"),
        ("rate_g_per_h = 4.1", "", "yarn_g_per_m"),
        ('"flat braid" = "no. 5"', '"flat braid" = "no. 8"', "no. 8"),
        ("side_by_side = 2", "side_by_side = 40", "1 to 12"),
    ],
)
def test_a_faulty_search_is_refused(capsys, file, was, becomes, told):
    assert was in SEARCH
    assert told in refused(capsys, "burn", "next", file(SEARCH.replace(was, becomes)))


# --- panels --------------------------------------------------------------------------------------


def test_ranks_from_a_file_and_from_a_pipe(capsys, file, monkeypatch):
    found = answer(capsys, "panel", "rank", file(RANKS))
    assert found["candles"] == ["Fig", "Bay", "Cedar"]
    assert found["rank_sums"] == [3, 7.5, 7.5]
    monkeypatch.setattr("sys.stdin", io.StringIO(RANKS.replace(",", ";")))
    assert answer(capsys, "panel", "rank", "-")["rank_sums"] == [3, 7.5, 7.5]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "no ranks"), ("a,b\n1\n", "1 ranks for 2"), ("a,a\n1,2\n2,1\n", "name of its own"),
        ("a,b\n1,x\n", "Line 2"), ("a,b\n1,2\n5,7\n", "each once"),
    ],
)  # fmt: skip
def test_ranks_that_are_none_are_refused(capsys, file, text, told):
    assert told in refused(capsys, "panel", "rank", file(text))


def test_a_triangle(capsys):
    found = answer(capsys, "panel", "triangle", "--assessors", "24", "--alpha", "0.05")
    assert found["needed"] == 13
    given = ("--assessors", "24", "--correct", "13", "--tell", "0.4")
    found = answer(capsys, "panel", "triangle", *given)
    assert found["differ"]
    assert found["p"] == pytest.approx(0.0284, abs=5e-4)
    assert 0.5 < found["power"] < 1
    assert "risk" in refused(capsys, "panel", "triangle", "--assessors", "24", "--alpha", "2")
