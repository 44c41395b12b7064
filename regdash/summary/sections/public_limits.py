"""What the figures cannot tell, for everybody, and whom to ask."""

from regdash.summary.asker import Asker
from regdash.summary.document import Bullets, Section, Warned

CANNOT = (
    "They cannot tell what will happen to you.",
    "They cannot tell if a joint feels good. A person may have pain and still not have a second operation.",
    "They cannot tell which kind of joint is best. People who get one kind differ from those who get another.",
    "They cannot tell how new kinds of joints will last. We have not watched them for long.",
    "They cannot tell how good a hospital or a surgeon is.",
    "They may change a little. Some operations are told to us late.",
)
ASK = (
    "Questions about your own joint, or about an operation that you plan, are for your surgeon or your doctor. Ask "
    "what these numbers mean for you."
)


def section(asker: Asker) -> Section:
    """Say what must not be read from the page."""
    return Section("public-limits", "What these numbers cannot tell", (Bullets(CANNOT), Warned(ASK)))
