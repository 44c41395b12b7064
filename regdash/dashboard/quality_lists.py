"""Which lists the place on data quality has, and in which order."""

from regdash.dashboard.sections import Section
from regdash.dashboard.sections_of_arrival import TriangleSection
from regdash.dashboard.sections_of_links import ReviewSection
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
    ReviewSection(),
    CompletenessSection(),
    DelaysSection(),
    TriangleSection(),
    MissingSection(),
    UnitsSection(),
)
