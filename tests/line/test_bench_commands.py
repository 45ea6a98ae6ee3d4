"""At the bench: `identify` and `blend`, their whole output, their refusals, and the record that is saved."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from passport.commands.main import passport

DEMO = Path(__file__).resolve().parents[2]


def run(*args: str) -> Result:
    """The command as a person types it."""
    return CliRunner().invoke(passport, args)


def in_demo(*args: str) -> Result:
    """The command on the example of the project."""
    return run(*args, "--folder", str(DEMO))


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the example's records, to write into."""
    shutil.copytree(DEMO / "content", tmp_path / "content")
    return tmp_path


# --- a piece on the balance ---------------------------------------------------------------------------

ETHANOL = ("--liquid", "ethanol 100 % by mass", "--temperature", "21 °C")


def test_a_piece_is_identified_by_its_masses() -> None:
    """Masses in, density with uncertainty, candidates, what is ruled out, next test and warnings out.

    By hand: OIML R 22 gives 0.78839 g/cm³ for pure ethanol at 21 °C; 41.52 x (0.78839 - 0.0012) / (41.52 - 7.24)
    + 0.0012 = 0.9546 (ISO 1183-1, method A, with air buoyancy).
    """
    result = run("identify", "--in-air", "41.52 g", "--in-liquid", "7.24 g", *ETHANOL)
    assert result.exit_code == 0
    assert result.output == (
        "density    0.9546 ± 0.0011 g/cm³ (one standard uncertainty)\n"
        "in         ethanol 100 % by mass at 21 °C, 0.7884 g/cm³\n"
        "could be   PE-HD\n"
        "ruled out  PS, PS-HI, PS-E, PET, PVC-U, ABS, PA6, PC, PMMA, POM: never of this density\n"
        "next test  read clean, light pieces with the scanner\n"
        "mind       filler, paint and bubbles change a density: take a clean, solid piece and wet it well\n"
        "           burn nothing to find out: the smoke may be poisonous, and flame retardants and fillers falsify"
        " flame and smell\n"
    )


def test_json_holds_the_same() -> None:
    """For another program the same report comes as JSON."""
    result = run("identify", "--in-air", "41.52 g", "--in-liquid", "7.24 g", *ETHANOL, "--json")
    report = json.loads(result.stdout)
    assert report["could_be"] == "PE-HD"
    assert list(report) == ["density", "in", "could_be", "ruled_out", "next_test", "mind"]


REFUSED = {
    "in liquid above in air": (
        ("--in-air", "7.24 g", "--in-liquid", "41.52 g", *ETHANOL),
        (
            "error density-not-lighter: met 7.24 g in air and 41.52 g in the liquid, wanted less in the liquid than in"
            " air\n    hint: a piece always loses weight under a liquid: the readings may be swapped or the balance not"
            " zeroed\n1 error\n"
        ),
    ),
    "foam": (
        ("--in-air", "2 g", "--in-liquid", "-60 g", "--temperature", "20 °C"),
        (
            "error density-floats: met 2 g in air and -60 g in the liquid, wanted a piece that sinks\n    hint: it"
            " floats: take a lighter liquid such as ethanol 100 % by mass, or hold it down with a sinker;"
            " foam floats in everything because of its gas"
            " cells: press a piece solid first\n1 error\n"
        ),
    ),
    "unknown liquid": (
        ("--in-air", "2 g", "--in-liquid", "1 g", "--liquid", "salt water"),
        (
            'error liquid-unknown: met "salt water", wanted water, ethanol 45 % by mass or brine 11 % by mass\n'
            "    hint: write brine with its strength by mass\n1 error\n"
        ),
    ),
    "too warm": (
        ("--in-air", "2 g", "--in-liquid", "1 g", "--temperature", "60 °C"),
        (
            "error liquid-temperature: met water at 60 °C, wanted 0 to 40 °C\n"
            "    hint: let the liquid come to room temperature and measure it again\n1 error\n"
        ),
    ),
    "balance too coarse": (
        ("--in-air", "4.1 g", "--in-liquid", "0.7 g", "--step", "0.1 g", *ETHANOL),
        (
            "error density-too-coarse: met 0.950 ± 0.028 g/cm³, which cannot tell PP from PE-HD, wanted an uncertainty"
            " below 0.005 g/cm³\n    hint: weigh a larger piece or take a balance with a finer step\n1 error\n"
        ),
    ),
    "no unit": (
        ("--in-air", "2", "--in-liquid", "1 g"),
        (
            'error option-unread: met "2", wanted a mass with its unit, such as 42.6 kg, 42.6 ± 0.2 kg or 120 g for'
            ' --in-air\n    hint: a number without a unit could be kilograms or grams: write "2 kg" or "2 g"\n1 error\n'
        ),
    ),
    "one reading only": (
        ("--in-air", "2 g"),
        (
            "error density-half: met no --in-liquid, wanted both readings\n"
            "    hint: weigh the piece in air and under the liquid\n1 error\n"
        ),
    ),
    "no step": (
        ("--in-air", "2 g", "--in-liquid", "1 g", "--step", "0 g"),
        'error option-unread: met "0 g" for --step, wanted more than 0 g\n1 error\n',
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_weighed_is_refused(case: str) -> None:
    """Masses, liquids and balances that tell nothing end with 1, the reason, and what to do."""
    args, said = REFUSED[case]
    result = run("identify", *args)
    assert (result.exit_code, result.stderr, result.stdout) == (1, said, "")


# --- the liquid and the plan --------------------------------------------------------------------------


def test_the_separating_liquid_comes_by_mass() -> None:
    """The recipe is for a kilogram, by mass, from the bottle at hand, with the caution about the vapour.

    96 % by volume is 93.8 % by mass (OIML R 22, general formula, 20 °C); 44.9 / 93.8 of a kilogram is 478 g.
    """
    result = run("identify", "--separate", "PE-HD", "PP", "--alcohol", "96 % by volume")
    assert result.exit_code == 0
    assert result.output == (
        "floats  PP\n"
        "sinks   PE-HD\n"
        "liquid  ethanol 44.9 % by mass at 20 °C, 0.925 g/cm³\n"
        "        for 1 kg: 478 g of alcohol (93.8 % by mass) and 522 g of water\n"
        "        weigh both: volumes of alcohol and water do not add up\n"
        "mind    the vapour is flammable: no flame, no spark, open window; keep it in a closed jar\n"
        "        let it stand until it is at 20 °C; the nearer resin is 0.015 g/cm³ away\n"
    )


def test_resins_that_overlap_have_no_liquid() -> None:
    """Where densities touch, the bench has nothing to say, and that is said."""
    result = run("identify", "--separate", "PE-HD", "PE-LD")
    assert result.exit_code == 1
    assert result.stderr == (
        "error separate-none: met PE-HD (0.940 to 0.970 g/cm³) and PE-LD (0.910 to 0.940 g/cm³), wanted two resins"
        " with room for a liquid between them that can be mixed\n    hint: nothing at the bench tells them apart:"
        " have a melting peak or a spectrum taken\n1 error\n"
    )


def test_the_plan_is_the_published_one() -> None:
    """59 pieces, all good, for 95 % at 95 %: the well-known sample size, ln 0.05 / ln 0.95 rounded up."""
    result = run("identify", "--plan", "95")
    assert result.exit_code == 0
    assert result.output == (
        "plan  read 59 pieces drawn at random\n"
        "then  if all are the resin, at least 95 % of the pieces are, with 95 % confidence\n"
        "mind  picked pieces say nothing about the rest; a piece too dark to read counts as another resin\n"
        "      a share of pieces is no share of mass: weigh the sample where the pieces differ\n"
    )


def test_a_small_lot_needs_fewer() -> None:
    """Of a counted lot fewer pieces do: of 23, one other may not hide from 18 (hypergeometric, by hand below).

    At least 95 % of 23 is 22 pieces; a lot with 21 passes 17 good ones with 6 x 5 / (23 x 22) = 5.9 % and 18 with
    5 x 4 / (23 x 22) = 4.0 %.
    """
    result = in_demo("identify", "--plan", "95 %", "--of", "in-005")
    assert result.output.startswith("plan  read 18 of the 23 pieces, drawn at random\nthen  if all are PP, at least")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--plan", "100 %"), 'error plan-whole: met "100 %" of a lot whose pieces nobody counted'),
        (("--plan", "95", "--confidence", "100 %"), 'error plan-confidence: met "100 %" for --confidence'),
        (("--plan", "lots"), 'error option-unread: met "lots %", wanted a share such as 0.5 % for --plan'),
    ],
)
def test_plans_that_cannot_be(args: tuple[str, ...], said: str) -> None:
    """No plan says all of an uncounted lot, or anything for certain."""
    result = run("identify", *args)
    assert result.exit_code == 1
    assert result.stderr.startswith(said)


# --- a lot of the records -----------------------------------------------------------------------------


def test_a_mixed_lot_is_not_named() -> None:
    """Doubts first; five of fourteen readings of another resin establish nothing, and a bucket of water helps."""
    result = in_demo("identify", "IN-016")
    assert result.exit_code == 0
    assert result.output == (
        "lot        IN-016\n"
        "doubts     met 6 pieces too dark to read, wanted a reading of each\n"
        "           met 5 × PS among pieces that read PP, wanted PP alone\n"
        "verdict    not established\n"
        "evidence   weak: an NIR reading of PP, 20 pieces, of these 5 × PS, 6 × no reading\n"
        "could be   PP, PS\n"
        "purity     none: no resin is named\n"
        "next test  float a piece in water with a drop of soap: PP floats, PS sinks\n"
        "liquid     water at 20 °C, 0.998 g/cm³\n"
        "           with a drop of soap, so that no bubbles hold pieces up\n"
        "mind       burn nothing to find out: the smoke may be poisonous, and flame retardants and fillers falsify"
        " flame and smell\n"
    )


def test_an_unknown_lot_is_refused() -> None:
    """A lot without a record is refused, with the nearest that has one."""
    result = in_demo("identify", "IN-0016")
    assert result.exit_code == 1
    assert result.stderr.startswith('error unknown-lot: met the lot "IN-0016", which has no record\n    hint: did you')


def test_nothing_asked_is_wrong_usage() -> None:
    """Without a lot or a reading there is nothing to do."""
    assert run("identify").exit_code == 2


# --- a blend ------------------------------------------------------------------------------------------

LIMITS = ("--weathered-max", "30 %", "--flow-min", "4 g/10 min at 230 °C/2.16 kg")


def test_a_blend_keeps_to_its_limits() -> None:
    """Masses add up to what was wanted, none above the stock, weathered share and flow within the limits."""
    result = in_demo("blend", "--want", "50 kg", "--resin", "PP", *LIMITS, "--json")
    assert result.exit_code == 0
    report = json.loads(result.stdout)
    assert report["mass_kg"] == "50.0"
    assert all(float(row["mass_kg"]) <= float(row["of_kg"]) for row in report["lots"])
    dates = [row["about"].split(",")[0] for row in report["lots"]]
    assert dates == sorted(dates)
    assert float(report["sun_worn"].split(" ")[0]) <= 30
    assert "compression of a sheet" in report["suits"]
    assert any(said.startswith("injection moulding: met 30 % heavily weathered") for said in report["not"])


def test_the_sun_worn_lot_goes_in_as_far_as_it_may() -> None:
    """`--most` answers the daily question: at most 30 % of 30 kg of a wholly sun-worn lot is 9 kg."""
    result = in_demo("blend", "--want", "30 kg", "--resin", "PP", "--most", "SH-007", *LIMITS, "--json")
    masses = {row["lot"]: row["mass_kg"] for row in json.loads(result.stdout)["lots"]}
    assert masses["SH-007"] == "9.0"


def test_a_blend_that_cannot_be_says_which_limit() -> None:
    """Where nothing fits, the limit that blocks is named, with the masses that come nearest."""
    flow = ("--flow-max", "9 g/10 min at 230 °C/2.16 kg")
    result = in_demo("blend", "--want", "40 kg", "--resin", "PP", *flow)
    assert result.exit_code == 1
    errors = [line for line in result.stderr.splitlines() if line.startswith(("error", "    hint"))]
    assert errors[0] == (
        "error blend-infeasible: met no masses that keep to the highest flow, wanted 40 kg within all limits"
    )
    assert errors[1].startswith("    hint: nearest: ")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (
            ("--want", "50", "--resin", "PP"),
            (
                'error option-unread: met "50", wanted a mass with its unit, such as 42.6 kg, 42.6 ± 0.2 kg or 120 g'
                ' for --want\n    hint: a number without a unit could be kilograms or grams: write "50 kg" or'
                ' "50 g"\n1 error\n'
            ),
        ),
        (
            ("--want", "5 kg", "--resin", "HDPE"),
            (
                'error resin-unknown: met "HDPE" for --resin, wanted a symbol of ISO 1043-1 or a group such as PE\n'
                "    hint: write the symbol of ISO 1043-1: PE-HD\n1 error\n"
            ),
        ),
        (
            ("--want", "5 kg", "--resin", "PP", *LIMITS, "--flow-max", "9 g/10 min at 190 °C/2.16 kg"),
            (
                "error flow-conditions: met flow limits at 230/2.16 and 190/2.16, wanted one test condition\n"
                "    hint: two conditions are not comparable (ISO 1133)\n1 error\n"
            ),
        ),
    ],
)
def test_what_is_asked_must_be_readable(args: tuple[str, ...], said: str) -> None:
    """A slip in an option ends with 1 and says how to write it."""
    result = in_demo("blend", *args)
    assert (result.exit_code, result.stderr) == (1, said)


def test_the_record_is_ready(copy: Path) -> None:
    """The saved proposal loads, takes what was proposed, leaves the mass to the scale, and makes no error."""
    asked = ("--want", "20 kg", "--resin", "PP", *LIMITS, "--folder", str(copy))
    result = run("blend", *asked, "--write", "bl-112", "--on", "2026-10-18")
    assert result.exit_code == 0
    assert result.stderr.endswith("written: content/lots/BL-112.yaml\n")
    record = (copy / "content" / "lots" / "BL-112.yaml").read_text(encoding="utf-8")
    assert record.startswith("date: 2026-10-18\noperation: blend\ndraws:\n- {lot: ")
    assert "\nmass: not weighed\nform: " in record
    assert run("check", "--folder", str(copy)).exit_code == 0


@pytest.mark.parametrize(
    ("order", "why"),
    [
        (("recall", "SH-002", "--reason", "A bottle of paint in it"), "which RC-004 calls back, wanted a sound one"),
        (
            ("event", "refused", "IN-002", "--because", "paint"),
            "made of what is refused (IN-002), wanted what may be handed on",
        ),
    ],
)
def test_what_must_not_become_goods_is_not_proposed(copy: Path, order: tuple[str, ...], why: str) -> None:
    """A lot that is called back, or made of what was refused, stays out and is named."""
    done = run(*order, "--on", "2026-10-17", "--yes", "--folder", str(copy))
    assert done.exit_code == 0, done.output
    result = run("blend", "--want", "5 kg", "--resin", "PP", "--folder", str(copy))
    assert f"advice blend-left-out: met lot SH-002, {why}" in result.stderr
    assert "SH-002" not in result.stdout


def test_a_record_is_never_overwritten(copy: Path) -> None:
    """An id that any record has is refused before anything is written."""
    result = run("blend", "--want", "20 kg", "--resin", "PP", "--write", "BL-001", "--folder", str(copy))
    assert result.exit_code == 1
    assert result.stderr == (
        'error id-taken: met "BL-001" for --write, wanted an id that no record has\n'
        "    hint: records are never overwritten\n1 error\n"
    )


# --- pieces that float, filler, mixtures, dosing ------------------------------------------------------


def test_a_piece_that_floats_is_held_down_by_a_sinker() -> None:
    """5.000 g in air, 12.000 g the sinker alone, 11.475 g both in water of 23 °C (ASTM D792 formula, computed case).

    By hand: 5 x (0.99754 - 0.0012) / (5 - (11.475 - 12.000)) + 0.0012 = 0.9029 g/cm³.
    """
    args = ("--in-air", "5.000 g", "--in-liquid", "11.475 g", "--sinker", "12.000 g", "--step", "0.001 g")
    result = run("identify", *args, "--temperature", "23 °C")
    assert result.exit_code == 0
    assert result.output.splitlines()[0] == "density    0.9029 ± 0.0005 g/cm³ (one standard uncertainty)"
    assert "could be   PP\n" in result.output


def test_a_heavy_piece_may_be_filled_and_a_light_one_two_resins() -> None:
    """1.050 g/cm³ is PP with a fifth of mineral (trade table: 20 % talc 1.04 to 1.05); 0.929 is PP and PE-HD halved."""
    heavy = run(
        "identify", "--in-air", "5.0000 g", "--in-liquid", "0.2498 g", "--temperature", "23 °C", "--step", "0.001 g"
    )
    assert "if filled  PP, with about 21 % by mass of a mineral such as talc (2.75 g/cm³)\n" in heavy.output
    light = run(
        "identify",
        "--in-air",
        "5 g",
        "--in-liquid",
        "0.753 g",
        "--step",
        "0.001 g",
        "--liquid",
        "ethanol 100 % by mass",
    )
    assert "or mixed   PP and PE-HD in equal parts by mass weigh as much\n" in light.output


RECIPE = ("--want", "40 kg", "--additive", "A 9 %", "--additive", "B 10 %", "--regrind", "25 %")


def test_own_regrind_is_dosed_with_its_additives() -> None:
    """A 9 %, B 10 %, a quarter of own regrind: A is dosed with 6.75 % (OPC 40082-4, 13.2)."""
    result = run("blend", *RECIPE)
    assert result.exit_code == 0
    assert result.output == (
        "24.300 kg   60.75 %  main material\n"
        " 2.700 kg    6.75 %  A; 2.25 % more comes with the regrind\n"
        " 3.000 kg    7.50 %  B; 2.50 % more comes with the regrind\n"
        "10.000 kg   25.00 %  own regrind\n"
        "\n"
        "closed loop: the regrind is of this same recipe and brings its part of each additive (OPC 40082-4, 13.2)\n"
        "own regrind never raises the recycled share\n"
    )


def test_regrind_of_another_recipe_is_one_more_component() -> None:
    """In an open loop A and B are dosed in full and 56 % is left for the main material (same rule, constructed)."""
    report = json.loads(run("blend", *RECIPE, "--open-loop", "--json").stdout)
    assert [row["share"] for row in report["hopper"]] == ["56.00 %", "9.00 %", "10.00 %", "25.00 %"]


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        (
            ("--additive", "A"),
            1,
            'error option-unread: met "A" for --additive, wanted a name and a share such as "colour 2 %"\n1 error\n',
        ),
        (
            ("--additive", "A 90 %", "--regrind", "30 %", "--open-loop"),
            1,
            (
                "error dosing-shares: met 90 % additives and 30 % regrind, wanted shares of at least 0 % that fit into"
                " 100 %\n    hint: shares are of the whole: additives, regrind and main material make 100 %\n1 error\n"
            ),
        ),
        ((), 2, "name the resin of the blend with --resin, or dose a recipe with --additive"),
        (("--additive", "A 2 %", "--resin", "PP"), 2, "--resin is for a blend of lots, not for dosing a recipe"),
        (("--additive", "A 2 %", "--write", "BL-9"), 2, "--write is for a blend of lots, not for dosing a recipe"),
    ],
)
def test_recipes_that_cannot_be_are_refused(args: tuple[str, ...], code: int, said: str) -> None:
    """Shares that do not fit, and options of the other kind of blend, end with a reason."""
    result = run("blend", "--want", "40 kg", *args)
    assert result.exit_code == code
    assert result.stderr == said if code == 1 else said in result.stderr


def test_flake_is_said_by_its_mass() -> None:
    """A weighed sample of flake bounds a share of mass: 86 of 87 draws of 0.6 g, 0.946 by the beta quantile."""
    result = in_demo("identify", "BL-004")
    assert (
        "purity     at least 94 % of its mass is PP, with 95 % confidence, by 52.4 g of flake read flake by flake;"
        " approximate\n"
    ) in result.output
