"""The chords over whole melts cut off nothing that fits, and touch what does."""

from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.planning.capacity import Cycle, chords

KIND = st.tuples(st.integers(0, 300), st.integers(50, 500))
CYCLES = st.builds(
    Cycle, left_s=st.integers(0, 4000), melt_s=st.integers(0, 1500), first_s=st.integers(0, 400),
    capacity_mg=st.integers(100, 2500), most=st.integers(0, 4),
    units=st.lists(KIND, min_size=1, max_size=3).map(tuple),
)  # fmt: skip


def keeps(chord, amount, melts):
    return chord.scale * amount <= chord.start + chord.slope * melts


@given(CYCLES, st.data())
def test_no_session_that_fits_is_cut_off(cycle, data):
    """Vessels are put in one by one, by lot, while clock and melters hold them."""
    melts = data.draw(st.integers(0, cycle.most))
    seconds = mass = 0
    left = cycle.left_s - melts * cycle.melt_s - (cycle.first_s if melts else 0)
    for s, mg in data.draw(st.lists(st.sampled_from(cycle.units), max_size=40)):
        if seconds + s <= left and mass + mg <= melts * cycle.capacity_mg:
            seconds, mass = seconds + s, mass + mg
    assert all(keeps(chord, seconds, melts) for chord in chords(cycle.seconds()))
    assert all(keeps(chord, mass, melts) for chord in chords(cycle.masses()))


@given(st.lists(st.integers(0, 1000), min_size=2, max_size=7))
def test_the_cover_lies_on_or_above_every_point_and_on_its_corners(most):
    cover = list(chords(most))
    for n, amount in enumerate(most):
        assert all(keeps(chord, amount, n) for chord in cover)
    for end in (0, len(most) - 1):
        assert any(not keeps(chord, most[end] + 1, end) for chord in cover)
    slopes = [chord.slope / chord.scale for chord in cover]
    assert slopes == sorted(slopes, reverse=True), "concave"


def test_a_second_short_melt_adds_the_little_that_its_time_leaves():
    """
    An evening of 180 min; a melt takes 55 min and 25 min a full load; 10 min to clean.

    One full melt is 80 min of work. Two leave 60 min for what is in them: 2.4 loads by time, and
    two by mass. Three leave 5 min: a fifth of a load. In between, nothing holds more than two.
    """
    minutes = Cycle(
        left_s=180, melt_s=55, first_s=10, capacity_mg=1000, most=3, units=((25, 1000),)
    )
    assert minutes.masses() == [0, 1000, 2000, 200]
    assert minutes.seconds() == [0, 25, 50, 5]
