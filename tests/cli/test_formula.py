"""``pourwright formula batch`` as a maker meets it."""

import argparse
import json
import shlex

import pytest

from pourwright.cli import formula as part
from pourwright.cli import main
from pourwright.core.errors import BadInput

HUNDRED_OUNCES = (
    '--wax "100 oz" --load 8.5 --basis wax --oil A=25 --oil B=25 --oil C=25 --oil D=25 '
    '--fill "10.5 oz"'
)
PLAIN = '--wax "2 kg" --fill "200 g"'
SCENTED = f"{PLAIN} --load 6 --basis wax --oil fig=2 --oil cedar=1"


def parser():
    whole = argparse.ArgumentParser(prog="pourwright", allow_abbrev=False)
    part.register(whole.add_subparsers(dest="part", required=True))
    return whole


def call(words):
    arguments = parser().parse_args(["formula", "batch", *shlex.split(words)])
    return arguments.run(arguments)


@pytest.fixture
def ask(capsys):
    def ask(words):
        assert call(f"{words} --json") == 0
        return json.loads(capsys.readouterr().out)

    return ask


@pytest.fixture
def read(capsys):
    def read(words):
        assert call(words) == 0
        return capsys.readouterr().out.replace("\u00a0", " ")

    return read


OZ_G = 28.349523125


def test_a_batch_from_wax_answers_with_every_amount(ask):
    """Common practice, no source: the figures of a hundred ounces."""
    answer = ask(HUNDRED_OUNCES)
    assert answer["wax_g"] == pytest.approx(100 * OZ_G)
    assert [oil["name"] for oil in answer["oils"]] == ["A", "B", "C", "D"]
    assert [oil["mass_g"] for oil in answer["oils"]] == pytest.approx([2.125 * OZ_G] * 4)
    assert answer["mix_g"] == pytest.approx(108.5 * OZ_G)
    assert answer["load_pct_of_wax"] == 8.5
    assert answer["load_pct_of_whole"] == pytest.approx(7.834, abs=0.0005)
    assert answer["vessels"] == 10
    assert answer["left_g"] == pytest.approx(3.5 * OZ_G)
    assert "weighing" not in answer


def test_a_number_of_vessels_sizes_the_batch_backwards(ask):
    answer = ask(
        '--vessels 24 --fill "200 g" --also 6="100 g" --load 10 --basis whole --oil fig=1 --loss 10'
    )
    # 5400 g poured are nine tenths of the mix, and a tenth of that is oil.
    assert answer["vessels"] == 30
    assert answer["mix_g"] == 6000
    assert answer["oils"][0]["mass_g"] == 600
    assert (answer["loss_g"], answer["left_g"]) == (600, 0)


def test_a_melter_alone_sizes_the_largest_batch(ask):
    both = '--melter "5 kg" --melter-volume "5 l" --liquid-density 0.8 --fill "200 g"'
    assert ask(both)["mix_g"] == 4000
    scented = f"{both} --load 25 --basis wax --oil fig=1"
    assert ask(scented)["mix_g"] == 4000
    assert ask(f"{scented} --oil-in pitcher")["wax_g"] == 4000


def test_the_scale_gives_weighing_targets_that_add_up(ask):
    weighing = ask(f'{SCENTED} --scale-division "0.5 g" --wax-scale-division "5 g"')["weighing"]
    assert [oil["weigh_g"] for oil in weighing["oils"]] == [80, 40]
    assert [wax["weigh_g"] for wax in weighing["waxes"]] == [2000]
    assert weighing["load_error_points"] == 0


def test_blends_and_extras_are_in_the_answer(ask):
    answer = ask(f'{SCENTED} --wax-part "soy A"=3 --wax-part coconut=1 --extra dye=0.1')
    assert answer["waxes"] == [
        {"name": "soy A", "mass_g": 1500},
        {"name": "coconut", "mass_g": 500},
    ]
    assert answer["extras"] == [{"name": "dye", "mass_g": 2}]
    assert answer["mix_g"] == 2122


def test_a_reason_passes_the_waxs_limit_and_stays_in_the_answer(ask):
    limited = f"{SCENTED} --max-load 5 --max-load-basis wax"
    with pytest.raises(BadInput, match="takes up to 5 % of the wax"):
        call(limited)
    (finding,) = ask(f'{limited} --override-reason "two trial vessels"')["findings"]
    assert finding["code"] == "wax_limit"
    assert finding["override_reason"] == "two trial vessels"


def test_no_reason_passes_an_oils_safety_limit():
    with pytest.raises(BadInput, match="safety limit"):
        call(f'{SCENTED} --oil-limit fig=2 --override-reason "please"')


def test_a_hot_melt_warns_of_the_flash_point_and_still_answers(ask):
    answer = ask(f'{SCENTED} --adding-temperature "185 F" --flash fig="80 C" --flash cedar="90 C"')
    assert [finding["code"] for finding in answer["findings"]] == ["flash_point"]


def test_people_read_both_systems_in_columns_and_the_caution(read):
    lines = read(f'{SCENTED} --scale-division "1 g"').splitlines()
    table = {line.split()[0]: line for line in lines[1:5]}
    assert table["fig"].endswith("80.00 g    2.822 oz     80 g")
    assert len({len(line) for line in table.values()}) == 1
    assert any("never leave a melt" in line for line in lines)
    assert any("6 % of the wax = 5.66 % of the whole" in line for line in lines)


def test_a_scale_in_ounces_shows_ounces(read):
    """2.822 and 1.411 oz are 56.44 and 28.22 divisions, 84.66 together: 85, one more for fig."""
    shown = read(f'{SCENTED} --scale-division "0.05 oz"')
    assert "2.85 oz" in shown
    assert "1.40 oz" in shown


def test_what_was_not_checked_is_said(read):
    assert "safety limit of fig and cedar" in read(SCENTED)
    assert "Not checked" not in read(PLAIN)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("", "Nothing sizes the batch"),
        ('--wax "2 kg" --vessels 3 --fill 200', "give one of them"),
        ("--vessels 3", "needs what one vessel takes"),
        ("--vessels 2.5 --fill 200", '--vessels "2.5" is not a whole number'),
        ("--vessels 0 --fill 200", "less than 1"),
        ("--wax much", '--wax "much" is not a mass'),
        ("--wax -3", "--wax"),
        ("--wax inf", "--wax"),
        ("--wax 1e400", "--wax"),
        ("--wax 0", "some wax"),
        ("--wax 2000 --fill 0", "fill is more than zero"),
        ("--wax 2000 --loss 100", "Loss is 100 %"),
        ("--wax 2000 --load 6 --oil fig=1", "--load needs its basis"),
        ("--wax 2000 --oil fig=1", "Oils need a load"),
        ("--wax 2000 --load 6 --basis wax", "no oil is given"),
        ("--wax 2000 --load 300 --basis wax --oil fig=1", "between 0 and 100 %"),
        ("--wax 2000 --load 6 --basis wax --oil fig", "is not a pair"),
        ("--wax 2000 --load 6 --basis wax --oil =2", "is not a pair"),
        ("--wax 2000 --load 6 --basis wax --oil fig=lots", '--oil fig "lots" is not a number'),
        ("--wax 2000 --load 6 --basis wax --oil fig=0", "share is more than zero"),
        ("--wax 2000 --load 6 --basis wax --oil fig=1 --oil fig=2", "given 2 times"),
        (f"{SCENTED} --flash rose=80", 'names "rose", which is not in the formula'),
        (f"{SCENTED} --flash fig=80 --flash fig=90", "given twice for fig"),
        (f"{SCENTED} --max-load 8", "--max-load needs its basis"),
        (f"{SCENTED} --max-load rose=8 --max-load-basis wax", 'names "rose"'),
        (f"{SCENTED} --scale-division 0", "more than zero"),
        (f"{SCENTED} --wax-scale-division 5", "goes with --scale-division"),
        (f"{SCENTED} --melter-volume 5000", "needs the density"),
        (f'{SCENTED} --melter-volume "16 oz" --liquid-density 0.8', "fl oz"),
        (f"{SCENTED} --liquid-density 0.8", "is for --melter-volume"),
        (f'{SCENTED} --melter "2 kg"', "does not fit the melter"),
        (f"{SCENTED} --also 6", "is not a pair"),
        (f"{SCENTED} --also 60=900", "ask for fewer"),
        (f"{SCENTED} --adding-temperature hot", "--adding-temperature"),
        ("--wax 2000 --load 6 --basis wax --oil 'fi\ng=1'", "cannot be printed"),
    ],
)
def test_bad_input_is_one_sentence_that_names_the_option_or_the_thing(words, why):
    with pytest.raises(BadInput) as refusal:
        call(words)
    assert why in str(refusal.value).replace("\u00a0", " ")
    assert str(refusal.value).isprintable() or "\u00a0" in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_help_ends_with_an_example_that_can_be_pasted(capsys):
    with pytest.raises(SystemExit) as end:
        parser().parse_args(["formula", "batch", "--help"])
    assert end.value.code == 0
    example = capsys.readouterr().out.split("Example:")[1]
    words = shlex.split(example.replace("\\\n", " "))
    assert words[:3] == ["pourwright", "formula", "batch"]
    assert call(shlex.join(words[3:])) == 0


def test_from_the_shell_bad_input_is_one_line_and_status_two(capsys, monkeypatch):
    monkeypatch.setattr(main, "PARTS", ("formula",))
    assert main.run(["formula", "batch", "--wax", "much"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith('pourwright: --wax "much" is not a mass')
