"""The opening of an edition for one recipient: whose it is, what it is made from, and how it must not be used."""

from regdash.summary.asker import Asker
from regdash.summary.document import Facts, Paragraph, Section, Warned
from regdash.summary.recipient import HOSPITAL, MAKER, SURGEON
from regdash.summary.sections.front import REVIEW

WHOSE = {
    HOSPITAL: "Own figures are of joints whose primary was done at hospital {code}, wherever they were revised.",
    SURGEON: "Own figures are of joints whose primary was done by surgeon {code}, wherever they were revised and by "
    "whom. This edition is private: it is for its surgeon alone.",
    MAKER: "Own figures are of primaries in which an implant of maker {code} was put in. No hospital and no surgeon is "
    "named or can be told apart here.",
}
ANONYMOUS = {
    HOSPITAL: "All others are taken together; no other hospital is named or shown by itself.",
    SURGEON: "All others are taken together; no other surgeon is named or shown by itself.",
    MAKER: "All others of a class are taken together; no other maker's implant is named.",
}
NO_RANKING = (
    "These figures are no ranking and no finding. They are not adjusted for patients, implants or years, and few "
    "joints differ from many by chance alone. They begin a conversation; whoever reads them checks the records first."
)


def section(asker: Asker) -> Section:
    """Say whose edition it is."""
    cut, kind, code = asker.cut, asker.recipient.kind, asker.recipient.code
    facts = Facts(
        (
            ("for", f"{kind} {code}"),
            ("quarter", f"{asker.quarter}: {asker.quarter.first} to {asker.quarter.last}"),
            ("data cut", f"{cut.cut}: events through {cut.through_date}, as known on {cut.known_as_of}"),
            ("content hash", f"{cut.content_hash} (format {cut.hash_format})"),
            ("edition", f"{asker.edition.name}, version {asker.edition.version}, hash {asker.edition.hash}"),
            ("withheld", withheld_in_words(asker)),
        )
    )
    whose = WHOSE[kind].format(code=code)
    said = Paragraph(f"{whose} {ANONYMOUS[kind]}")
    return Section("opening", "What this is", (Warned(REVIEW), said, facts, Paragraph(NO_RANKING)))


def withheld_in_words(asker: Asker) -> str:
    """Say what is withheld from this recipient."""
    policy = asker.others if asker.recipient.is_treating else asker.desk.policy
    chance = f"risks with fewer than {policy.minimum_at_risk} joints at risk"
    if not policy.withholds_counts:
        return f"{chance}; no count is withheld, as the edition's file says"
    whose = "of others " if asker.recipient.is_treating else ""
    return (
        f"{chance}; counts {whose}of 1 to {policy.withhold_counts_under - 1} with every figure that would tell them, "
        "and others beside them where they would follow from a total"
    )
