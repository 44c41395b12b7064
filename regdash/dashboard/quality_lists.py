"""Which lists the place on data quality has, and in which order."""

from regdash.dashboard.sections import Section
from regdash.dashboard.sections_of_records import (
    CompletenessSection,
    DelaysSection,
    FeedsSection,
    LinksSection,
    MissingSection,
)
from regdash.dashboard.sections_of_rows import ReceivedSection, RulesSection, SendersSection, UnitsSection

SECTIONS: tuple[Section, ...] = (
    RulesSection(),
    SendersSection(),
    ReceivedSection(),
    FeedsSection(),
    LinksSection(),
    CompletenessSection(),
    DelaysSection(),
    MissingSection(),
    UnitsSection(),
)
