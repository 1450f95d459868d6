"""Each reason to doubt a number, as one short sentence."""

from collections.abc import Sequence

from bot.wording.formats import Style, sentence
from rules.garden.doubt import Doubt, DoubtKind


def doubts_in_words(doubts: Sequence[Doubt], style: Style) -> list[str]:
    """Each doubt as one short sentence, the same words never twice."""
    said: list[str] = []
    for doubt in doubts:
        text = _doubt(doubt, style)
        if text and text not in said:
            said.append(text)
    return said


def _hours(doubt: Doubt, style: Style) -> str:
    """Which hours, so that everybody sees whether it is tonight."""
    if doubt.first_utc is None or doubt.last_utc is None:
        return ""
    first, last = (
        (style.short_date(at.astimezone(style.zone).date()), style.clock(at))
        for at in (doubt.first_utc, doubt.last_utc)
    )
    until = last[1] if first[0] == last[0] else " ".join(last)
    return f" ({' '.join(first)} to {until}): only a night with those hours in it is less sure"


def _doubt(doubt: Doubt, style: Style) -> str:
    size = doubt.amount or 0.0
    about = f" ({doubt.subject})" if doubt.subject else ""
    words = {
        DoubtKind.NO_FORECAST: "I have no forecast",
        DoubtKind.STALE_FORECAST: f"The forecast is {size:.0f} hours old",
        DoubtKind.FORECAST_ENDS: f"The forecast ends after {size:.0f} hours",
        DoubtKind.MISSING_HOURS: f"{size:.0f} hours are missing from the forecast{_hours(doubt, style)}",
        DoubtKind.COARSE_STEPS: f"The forecast comes in steps of {size:.0f} hours, so the night's low may be blunted",
        DoubtKind.NO_CLOUD: f"No cloud given for {size:.0f} hours: taken as clear, which is colder",
        DoubtKind.NO_DEW_POINT: f"No dew point given for {size:.0f} hours: taken as dry",
        DoubtKind.NO_WIND: f"No wind given for {size:.0f} hours: taken as calm",
        DoubtKind.NO_PAST_WEATHER: f"I know no past weather{about}: what the wood can take is from the date alone",
        DoubtKind.NO_PAST_WINTERS: "I know no past winters here",
        DoubtKind.FEW_PAST_WINTERS: f"Freeze dates rest on {size:.0f} winters only",
        DoubtKind.RIPENING_GUESSED: f"The heat it needs to ripen is an estimate{about}",
        DoubtKind.SITE_GUESSED: f"No reading at the tree yet{about}: its spot is a guess, ±{style.step(size)}",
        DoubtKind.SITE_HALF_KNOWN: f"Few readings at the tree yet{about}: ±{style.step(size)}",
        DoubtKind.SOIL_GUESSED: f"How warm the ground is here is a guess, ±{style.step(size)}: I know no past years",
        DoubtKind.COVER_GUESSED: f"What the cover keeps is an estimate{about}: ±{style.step(size)}",
        DoubtKind.HARDINESS_GUESSED: f"What it can take is an estimate{about}: ±{style.step(size)}",
        DoubtKind.STATE_UNKNOWN: f"Nobody has told me how the cover stands{about}: I take it as off",
        DoubtKind.PAST_SAVING: f"By past winters the cold kills it under its cover too{about}, so I ask for none; "
        "a thicker cover, a pot indoors or a hardier kind would help",
        DoubtKind.OBSERVATION_CLASH: f"What was seen does not fit the season{about}",
        DoubtKind.SERVICE_SILENT: f"{doubt.subject} has no news, so I go by the others",
        DoubtKind.SERVICES_DIFFER: f"Two weather services differ by {style.step(size)} about tonight",
        DoubtKind.VALUE_REFUSED: f"{size:.0f} unbelievable values in the forecast were left out",
    }
    return sentence(words.get(doubt.kind, str(doubt.kind)))
