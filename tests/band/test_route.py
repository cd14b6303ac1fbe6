"""The names of bars in all choruses, and how bars are found by them."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.band.route import Route
from backing.chart.read import read_chart

TEXT = "form: {form}\n{intro}" + "".join(
    f"[{name}]\n| C | F |\n" for name in ("Intro", "A", "B", "Tag")
)


@examples(60)
@given(
    form=st.lists(st.sampled_from(["Intro", "A", "B", "Tag"]), min_size=1, max_size=6),
    choruses=st.integers(1, 4),
    intro=st.sampled_from(["", "intro: last 2\n", "intro: kick-off\n"]),
    has_tag=st.booleans(),
)
def test_a_bar_has_one_name_in_every_chorus(
    form: list[str], choruses: int, intro: str, has_tag: bool
) -> None:
    """The second A of the form is that in each chorus, whatever is played once, and is found."""
    chart = read_chart(TEXT.format(form=" ".join(form), intro=intro))
    route = Route(chart, choruses, has_tag=has_tag)
    for number in range(route.bars):
        sequenced, name = route.sequenced_bar(number), route.name_of(number)
        chorus, _ = route.locate(number)
        assert name is not None
        assert route.find(chorus, name) == number
        part, occurrence, index = name
        if part in form:
            place = [at for at, each in enumerate(form) if each == part][occurrence]
            assert sequenced.origin
            assert (place, index) == (sequenced.origin.form_index, sequenced.origin.index)
        else:
            assert (part in ("intro", "tag"), occurrence) == (True, 0)
