"""
Every error this program raises on purpose; a person reads each of them.

    RegdashError           one clear line on standard error, exit code 1
    ├── InputError         a file, folder or submission that cannot be taken in
    ├── FilterError        a filter word, a field or a value that is not known
    ├── StoreError         a store or data cut that is missing, busy, damaged or of another release
    ├── LinkError          a decision on a link that the records do not allow
    ├── ReviewError        a decision on a signal that cannot be, or that somebody else has overtaken
    ├── RequestError       a line of the register of requests that cannot be, or names a person
    ├── ExtractError       a field list or an extract that cannot be, or rows that are too few alike
    ├── CutRefused         a data cut that would lose links or counted records, and nobody said why
    ├── StatementError     a statement in SQL that is refused or cannot be answered
    ├── PolicyError        a policy that cannot be, or an answer that it withholds altogether
    ├── SummaryError       a quarter, an edition or a folder that no summary can be made of, or made again from
    ├── WriteError         a file that cannot be written, or what a clipboard cannot take
    ├── CountError         counts that contradict each other
    ├── ModelError         a model that these counts cannot answer: no events, one level, collinear columns
    └── Cancelled          the question was cancelled or overtaken; nobody needs to read it

Anything else that reaches the top is a bug and keeps its traceback.
"""


class RegdashError(Exception):
    """The root of what is raised on purpose."""


class InputError(RegdashError):
    """A file, folder or submission that cannot be taken in as it is."""


class FilterError(RegdashError):
    """A filter word, field or value that is not known, or that may not be used here."""


class NothingDoneError(FilterError):
    """Dates are asked about in which nothing was done; the words are right."""


class StoreError(RegdashError):
    """A store or data cut that is missing, held by somebody else, damaged or of another release."""


class LinkError(RegdashError):
    """A decision on a link that the records do not allow."""


class ReviewError(RegdashError):
    """A decision on a signal that cannot be taken, or that somebody else has overtaken."""


class RequestError(RegdashError):
    """A line of the register of requests that cannot be written, or a request that there is not."""


class ExtractError(RegdashError):
    """A field list or an extract that cannot be made, or rows of which too few are alike."""


class CutRefused(RegdashError):
    """A data cut that would lose links or counted records of the one before, and nobody said why."""


class StatementError(RegdashError):
    """A statement in SQL that is refused, cannot be answered or took too long."""


class PolicyError(RegdashError):
    """A setting of what is withheld that cannot be, or a question whose whole answer is withheld."""


class SummaryError(RegdashError):
    """A quarter, edition or folder that no summary can be made of, or made again from."""


class WriteError(RegdashError):
    """A file that cannot be written without losing another or at all, or text that a clipboard cannot take."""


class CountError(RegdashError):
    """Counts that contradict each other."""


class ModelError(RegdashError):
    """A model that these counts cannot answer: no events, one level only, collinear columns, no highest likelihood."""


class NoTopError(ModelError):
    """A likelihood that rises without end, so that some ratio has none."""


class Cancelled(RegdashError):
    """The question was cancelled or overtaken by a newer one."""
