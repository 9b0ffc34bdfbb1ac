from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.errors import TerrainError
from terrain.vantage.limits import Limits
from terrain.vantage.question import Question, standard_criteria

LIMITS = Limits(tolerance_deg=0.5, max_slope_deg=25.0)
CRITERIA = standard_criteria(LIMITS)
NAMES = [criterion.name for criterion in CRITERIA]
# best and worst that a value can be, in the order in which the score never rises
FALLING = {
    "alignment": [0.0, 0.1, -0.2, 0.4, -0.5, 2.0],
    "togetherness": [0.3, 1.0, 2.0, 4.9, 5.0, 20.0],
    "stature": [5.0, 1.5, 0.2, 0.0, -3.0],
    "openness": [1.0, 0.7, 0.2, 0.0],
    "isolation": [90.0, 0.5, 0.1, 0.0, -1.0],
    "contrast": [1.0, 0.4, 0.0],
    "freeboard": [400.0, 50.0, 10.0, 0.0],
    "warmth": [1.0, 3.0, 5.0, 8.0, 20.0],
    "level": [-3.0, 1.0, 4.0, 8.0, 20.0],
    "nearness": [3000.0, 9000.0, 15_000.0, 25_000.0, 60_000.0],
    "footing": [0.0, 5.0, 20.0, 25.0, 40.0],
    "sea": [1.0, 0.5, 0.1, 0.0],
    "waterline": [1.0, 0.5, 0.1, 0.0, np.nan],
    "over_mist": [9.0, 3.0, 1.0, 0.0, np.nan],
    "island": [1.0, 0.0],
    "isles": [12.0, 3.0, 1.0, 0.0],
    "shallows": [4.0, 0.5, 0.02, 0.0],
    "pouring": [3.0, 1.0, 0.0],
    "band": [200.0, 80.0, 20.0, 0.0],
    "frame": [1.0, 0.6, 0.0],
}


def values(rows: int = 1, **given_values: float) -> pd.DataFrame:
    table = pd.DataFrame({criterion.value: np.full(rows, 0.3) for criterion in CRITERIA})
    return table.assign(**given_values)


def scored(table: pd.DataFrame, weights: dict[str, float] | None = None) -> pd.DataFrame:
    return Question(limits=LIMITS, weights=weights).scored(table)


@given(st.lists(st.floats(-1e6, 1e6), min_size=len(CRITERIA), max_size=len(CRITERIA)))
def test_scores_lie_between_0_and_1(drawn: list[float]) -> None:
    table = pd.DataFrame([drawn], columns=[criterion.value for criterion in CRITERIA])
    # a share is itself a score, and lies between 0 and 1 by what it is
    table["open_share"] = table["open_share"].clip(0.0, 1.0)
    found = scored(table)
    for name in [*NAMES, "score"]:
        assert 0.0 <= found[name][0] <= 1.0
    assert table.columns.tolist() == [criterion.value for criterion in CRITERIA]


@pytest.mark.parametrize("criterion", CRITERIA, ids=lambda c: c.name)
def test_better_values_never_score_less(criterion) -> None:
    order = np.array(FALLING[criterion.name])
    scores = criterion.score(order)
    assert (np.diff(scores) <= 0.0).all()
    assert scores[0] > 0.9
    assert scores[-1] < 0.1
    found = scored(values(len(order)).assign(**{criterion.value: order}))
    assert (np.diff(found["score"]) <= 1e-15).all()


def test_halves_and_limits() -> None:
    by_name = {criterion.name: criterion.score for criterion in CRITERIA}
    assert by_name["alignment"](np.array([0.25, 0.5])) == pytest.approx([0.5, 0.0])
    assert by_name["footing"](np.array([12.5, 25.0])) == pytest.approx([0.5, 0.0])
    assert by_name["stature"](np.array([1.5])) == pytest.approx([0.5])
    assert by_name["isolation"](np.array([0.5])) == pytest.approx([0.5])
    assert by_name["freeboard"](np.array([50.0])) == pytest.approx([0.5])


def test_a_limit_of_nothing_leaves_level_ground_alone() -> None:
    """Not a division by it: `Limits(max_slope_deg=0)` is what it says."""
    level = standard_criteria(Limits(tolerance_deg=0.5, max_slope_deg=0.0))
    footing = next(criterion.score for criterion in level if criterion.name == "footing")
    np.testing.assert_array_equal(footing(np.array([0.0, 1e-9, 20.0, np.nan])), [1, 0, 0, np.nan])


def test_score_is_the_weighted_mean() -> None:
    found = scored(values())
    weights = [criterion.weight for criterion in CRITERIA]
    mean = np.average(found[NAMES].to_numpy()[0], weights=weights)
    assert found["score"][0] == pytest.approx(mean)


def test_an_unknown_value_is_left_out() -> None:
    """Without a mist there is no freeboard: the rest is judged as if it had no weight."""
    without = scored(values(freeboard_m=np.nan))
    unweighted = scored(values(), {"freeboard": 0.0})
    assert np.isnan(without["freeboard"][0])
    assert without["score"][0] == pytest.approx(unweighted["score"][0])


def test_a_value_that_the_table_lacks_gets_no_score() -> None:
    known = values().drop(columns=["mist_share", "islands_in_view", "pours_in_view", "mist_band_m"])
    found = scored(known, {"band": 9.0})
    assert not {"sea", "isles", "pouring", "band"} & set(found)
    without = scored(values(), dict.fromkeys(("sea", "isles", "pouring", "band"), 0))
    assert found["score"][0] == pytest.approx(without["score"][0])


def test_weights_change_the_order() -> None:
    near, level = {"best_deg": 0.0, "slope_deg": 20.0}, {"best_deg": 0.4, "slope_deg": 0.0}
    table = pd.concat([values(**near), values(**level)], ignore_index=True)
    assert scored(table)["score"].idxmax() == 0
    assert scored(table, {"alignment": 0.1, "footing": 9})["score"].idxmax() == 1
    alone = scored(table, {name: 0.0 for name in NAMES if name != "footing"})
    assert alone["score"].tolist() == pytest.approx(alone["footing"].tolist())


@pytest.mark.parametrize(
    ("weights", "message"),
    [
        ({"beauty": 1.0}, "no criterion is called 'beauty': choose from alignment, togetherness"),
        ({"stature": -1.0}, "the weight of stature must be 0 or more, got -1.0"),
        ({"stature": float("nan")}, "the weight of stature must be 0 or more, got nan"),
        ({"stature": float("inf")}, "the weight of stature must be 0 or more, got inf"),
        (dict.fromkeys(NAMES, 0.0), "every criterion has the weight 0"),
    ],
)
def test_weights_that_make_no_sense(weights: dict[str, float], message: str) -> None:
    with pytest.raises(TerrainError, match=message):
        scored(values(), weights)


def test_a_hill_dark_before_near_ground_far_under_the_sun_is_the_worse_picture() -> None:
    """As seen over Cat Bells: before fells 3 km behind it, with the sun 4 degrees above."""
    dark = {"sun_from_summit_deg": 4.0, "contrast": 0.3, "stature_deg": 7.0, "mist_share": 0.1}
    plain = {"sun_from_summit_deg": 0.3, "contrast": 1.0, "stature_deg": 2.0, "mist_share": 0.1}
    table = pd.concat([values(**dark), values(**plain)], ignore_index=True)
    assert scored(table)["score"].idxmax() == 1
    before = scored(table, {"togetherness": 0.0, "contrast": 0.0})
    assert before["score"].idxmax() == 0


def test_what_each_counts_for_where_nobody_says() -> None:
    """Common practice, no source: first how the hill stands out of the mist, then all the rest."""
    by_weight: dict[float, set[str]] = {}
    for each in standard_criteria(Limits()):
        by_weight.setdefault(each.weight, set()).add(each.name)
    assert by_weight == {
        2.5: {"waterline"},
        2.0: {"frame"},
        1.5: {
            *("alignment", "togetherness", "stature", "openness"),
            *("contrast", "sea", "over_mist", "band"),
        },
        1.0: {"isolation", "freeboard", "warmth", "level", "nearness", "footing"},
        0.5: {"island", "isles", "shallows", "pouring"},
    }
