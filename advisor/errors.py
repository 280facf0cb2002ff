"""What can go wrong, as one tree.

AdvisorError
├── ReportError      a report cannot be read
├── DepartureError   time, place, heading, aircraft or windows cannot be used
├── ChecklistError   a checklist, profile, pads or holdover file is wrong
├── PlanError        no plan exists
├── FeedError        a source could not be reached
├── OutputError      a result could not be written
└── RecordError      the record cannot be opened, read or added to

Each carries what is wrong, where, and a hint of what would be right, and prints as one line.
"""


class AdvisorError(Exception):
    """Base of every error that a user may see.

    what: what is wrong; where: the file, option or group at fault; hint: what would be right.
    """

    exit_code = 2

    def __init__(self, what: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head}; {self.hint}" if self.hint else head


class ReportError(AdvisorError):
    """A report that cannot be read or used."""

    exit_code = 3


class DepartureError(AdvisorError):
    """A time, place, heading, aircraft or window that cannot be used."""

    exit_code = 3


class ChecklistError(AdvisorError):
    """One or several faults in a checklist, profile, pads or holdover file.

    faults: one line each, "file:line:column: field: what, and what would be right"; told: the same in their parts.
    """

    exit_code = 4

    def __init__(
        self,
        what: str,
        *,
        where: str = "",
        hint: str = "",
        faults: tuple[str, ...] = (),
        told: tuple[object, ...] = (),
    ) -> None:
        super().__init__(what, where=where, hint=hint)
        self.faults = faults
        self.told = told

    def __str__(self) -> str:
        return "\n".join(self.faults) if self.faults else super().__str__()


class PlanError(AdvisorError):
    """No plan exists for these departures and pads."""

    exit_code = 5


class FeedError(AdvisorError):
    """A source of reports that could not be reached or gave nothing usable."""

    exit_code = 6


class OutputError(AdvisorError):
    """A result that could not be written whole: a full disk, one that can only be read, a closed stream."""

    exit_code = 6


class RecordError(AdvisorError):
    """A record that cannot be opened, read or added to. full: for want of room on the disk."""

    exit_code = 6

    def __init__(self, what: str, *, where: str = "", hint: str = "", full: bool = False, exit_code: int = 6) -> None:
        super().__init__(what, where=where, hint=hint)
        self.full, self.exit_code = full, exit_code
