"""Device labels that are right, nearly right or nothing at all, drawn at random."""

from hypothesis import strategies as st

from regdash.udi import check_digit

CHARACTERS = "!\"%&'()*+,-./0123456789:;<=>?ABCXYZ_abcxyz"


@st.composite
def gtins(draw: st.DrawFn) -> str:
    """Fourteen digits, the last of them mostly right."""
    body = draw(st.text("0123456789", min_size=13, max_size=13))
    return body + draw(st.one_of(st.just(str(check_digit(body))), st.sampled_from("0123456789")))


def days() -> st.SearchStrategy[str]:
    """YYMMDD, of the calendar or not quite."""
    return st.builds("{:02}{:02}{:02}".format, st.integers(0, 99), st.integers(0, 13), st.integers(0, 32))


def elements() -> st.SearchStrategy[tuple[str, str]]:
    """An application identifier and its value."""
    text = st.text(CHARACTERS, max_size=22)
    return st.one_of(
        st.tuples(st.just("01"), gtins()),
        st.tuples(st.sampled_from(("11", "17")), days()),
        st.tuples(st.sampled_from(("10", "21", "240", "99")), text),
        st.tuples(st.from_regex(r"\A[0-9]{2,4}\Z"), text),
    )


@st.composite
def labels(draw: st.DrawFn) -> str:
    """A label as scanned, as printed, or any text."""
    found = [("01", draw(gtins())), *draw(st.lists(elements(), max_size=4))]
    front = draw(st.sampled_from(("", "", "]C1", "]d2\x1d", " ", "]", "\t]Q3")))
    end = draw(st.sampled_from(("", "", "\x1d", "\r\n", " ", "x", "\N{NO-BREAK SPACE}")))
    gap = draw(st.sampled_from(("\x1d", "\x1d", "", "\x1d\x1d")))
    blank = draw(st.sampled_from(("", "", " ", "\x1d", "\n")))
    printed = "".join(f"({ai}){blank}{value}" for ai, value in found)
    scanned = gap.join(ai + value for ai, value in found)
    alone = draw(st.one_of(gtins(), st.text("0123456789", max_size=15)))
    return front + draw(st.sampled_from((printed, scanned, scanned, alone, draw(st.text(max_size=30))))) + end
