"""Where extracts are asked for: the desk of reports, with what this layer adds."""

from regdash.extracts.classes import Alike
from regdash.extracts.make import checked, make
from regdash.extracts.model import Extract, Wanted
from regdash.reports.desk import Desk
from regdash.store.extract_key import extract_key, made_extract_key

_ANY_KEY = b"no row leaves"


class ExtractsDesk(Desk):
    """A desk that makes extracts too."""

    def alike(self, wanted: Wanted) -> list[Alike]:
        """Count how alike the rows of an extract would be, as `checked`; nothing is written."""
        with self._asking() as cut:
            return checked(cut, wanted, _ANY_KEY)

    def extract(self, wanted: Wanted) -> Extract:
        """
        Make an extract, as `make`; the key that orders rows is made with the first.

        Raises:
            ExtractError: as `make`.
            StoreError: the office file cannot be written.
        """
        with self._asking() as cut:
            return make(cut, wanted, made_extract_key(self._store))

    def extract_again(self, wanted: Wanted) -> Extract:
        """Make an extract that was made before, without writing anything to the store."""
        with self._asking() as cut:
            return make(cut, wanted, extract_key(self._store) or _ANY_KEY)

    def k_at_least(self, *asked: int) -> int:
        """Say of how many patients a class must be: the most that is asked, and that the policy withholds."""
        return max(*asked, self.policy.withhold_counts_under)
