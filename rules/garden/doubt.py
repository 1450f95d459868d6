"""What the physics or the record cannot know: a value that travels with every result to the message."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class DoubtKind(StrEnum):
    """The reasons why a number is less sure than it looks."""

    NO_FORECAST = "no forecast"  # nothing to look at
    STALE_FORECAST = "stale forecast"  # amount: age in hours
    FORECAST_ENDS = "forecast ends"  # amount: hours covered
    MISSING_HOURS = "missing hours"  # amount: hours filled in between
    COARSE_STEPS = "coarse steps"  # amount: longest step in hours; a night minimum is blunted
    NO_CLOUD = "no cloud"  # amount: hours without cloud
    NO_DEW_POINT = "no dew point"  # amount: hours without dew point
    NO_WIND = "no wind"  # amount: hours without wind
    NO_PAST_WEATHER = "no past weather"  # phase from the date alone
    NO_PAST_WINTERS = "no past winters"  # freeze dates unknown
    FEW_PAST_WINTERS = "few past winters"  # freeze dates from a short record; amount: usable winters
    RIPENING_GUESSED = "ripening guessed"  # heat from leaf-out to ripe is an estimate or unknown; amount: degree-days
    SITE_GUESSED = "site guessed"  # no readings at this tree yet; amount: 1 sd in degrees C
    SITE_HALF_KNOWN = "site half known"  # few readings at this tree yet; amount: 1 sd in degrees C
    SOIL_GUESSED = "soil guessed"  # no past years to tell how warm the ground is; amount: 1 sd in degrees C
    COVER_GUESSED = "cover guessed"  # no readings inside this cover yet; amount: 1 sd in degrees C
    HARDINESS_GUESSED = "hardiness guessed"  # species row is an estimate; amount: 1 sd in degrees C
    STATE_UNKNOWN = "state unknown"  # nobody has said whether the cover is on
    PAST_SAVING = "past saving"  # past winters kill it under its cover too; amount: share of its worth that goes
    OBSERVATION_CLASH = "observation clash"  # what was seen contradicts the model
    SERVICE_SILENT = "service silent"  # one of several heard together tells nothing; subject: its title
    SERVICES_DIFFER = "services differ"  # amount: degrees C between services
    VALUE_REFUSED = "value refused"  # amount: how many values outside the believable range


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """One reason to doubt one number.

    Parameters
    ----------
    kind
        The reason.
    subject
        The tree, service or field the doubt is about; empty when it is about everything.
    amount
        The size, in the unit named beside the kind; None where a size makes no sense.
    first_utc, last_utc
        The hours it is about, first and last; None where it is about no hours.
    """

    kind: DoubtKind
    subject: str = ""
    amount: float | None = None
    first_utc: datetime | None = None
    last_utc: datetime | None = None
