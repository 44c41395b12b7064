"""Methods and glossary: how every figure was made, each said once, and what the words mean."""

from regdash.summary.asker import Asker
from regdash.summary.document import Facts, Section

GLOSSARY = (
    ("joint", "one side of one patient: what lasts or is revised"),
    ("primary", "the first implantation in a joint"),
    ("revision", "a later operation that adds, removes or exchanges a component; anything else is a reoperation"),
    ("class", "kind of joint replacement: total, partial, hemi, reverse and so on"),
    ("implant", "one device family in one role; a construct is the combination that works together"),
    ("net revision risk", "proportion revised by a time, had nobody died: how implants last"),
    ("cumulative incidence", "proportion revised by a time, death competing: what happens to patients"),
    ("at risk", "joints whose follow-up reaches a time and that are not revised before it"),
    ("implant-years", "years of follow-up of all joints added up: the denominator of a rate"),
    ("hazard ratio", "rate of revision of one group over another's, day by day among joints that are alike"),
    ("limits", "an interval that holds the true figure as often as its level says, were the study done again"),
    ("reason", "what the surgeon recorded; one leads, others may follow; not a proven cause"),
    ("signal", "something to look into; never a verdict"),
    ("q", "share of signals, at most, that are expected to be false where the line is drawn at this one"),
    ("data cut", "the records that the figures were computed from, frozen and numbered"),
    ("through-date", "last day of events in a data cut"),
    ("known as of", "last day on which records arrived that a data cut holds"),
    ("held", "a row that is kept, with its reason, until the hospital corrects it; it counts nowhere yet"),
    ("withheld", "a figure that is not shown, with the reason beside it; it is neither 0 nor missing"),
)


def section(asker: Asker) -> Section:
    """Write the methods that figures of this summary were made by, and the glossary."""
    of: dict[str, list[str]] = {}
    for measure, method in asker.methods.items():
        of.setdefault(method, []).append(measure)
    methods = Facts(tuple(("; ".join(measures), method) for method, measures in of.items()))
    parts = (
        Section("methods-each", "How figures were made", (methods,)),
        Section("glossary", "Glossary", (Facts(GLOSSARY),)),
    )
    return Section("methods", "Methods and glossary", (), parts)
