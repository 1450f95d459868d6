"""What is only politeness, taken off both ends of a reply before it is read: "good morning, closed porch, thanks!"."""

import re

_NAME = r"(?:\s+(?:bot|bedstraw|there|again|folks|guys|(?:all|everyone|everybody)(?=\s*[,.!])))?"
_GREETING = r"(?:hi|hello|hey|hiya|hallo|howdy|good\s+(?:morning|evening|afternoon|day))"
_LEAD = re.compile(
    rf"^\s*(?:(?:{_GREETING}{_NAME}|btw|by\s+the\s+way|also|oh(?!\s+no\b)|ah|(?:morning|evening|afternoon)(?=\s*[,.!]))"
    r"(?:\s*[,.!;:–—-]+)?\s+)+(?=.*[\w?👍✅✔☑👌💪🆗🙌👎❌✖🚫⛔])",
    re.IGNORECASE,
)
_THANKS = r"(?:many\s+)?(?:thanks|thx|thank\s+you|ty|tysm|cheers)(?:\s+(?:a\s+lot|so\s+much|very\s+much|again))?"
_BYE = r"(?:see\s+(?:you|ya)(?:\s+(?:tomorrow|later|soon|then))?|good\s*night|bye(?:\s*bye)?)"
_TAIL = re.compile(
    rf"(?<=\S)(?:\s*[,.!;–—-]+|\s)\s*(?:(?:{_THANKS}|{_BYE}|please|pls|plz){_NAME}[\s,.!]*)+$", re.IGNORECASE
)
_SMILES = re.compile("[\\s\U0001f600-\U0001f644\U0001f64f\U0001f910-\U0001f92f\U0001f970-\U0001f97a\u2764\ufe0f]+$")
_BARE_PRAISE = re.compile(r"(?:ok|okay|k|great|cool|fine|good|perfect|nice|super)\W*", re.IGNORECASE)
_MISSENT = re.compile(  # what was for somebody else, said behind it
    r"^\W*(?:(?:oops|whoops|sorry|so sorry|ah|oh)\W+)*wrong (?:chat|person|group|window|number|thread)"
    r"(?:\W+(?:sorry|ignore(?: that| it| me)?|my bad))*(?:\W+|$)",
    re.IGNORECASE,
)
_STOPS = re.compile(r"(?<=[^\W\d_]|[?'’)])\s*[.!]+\s*$")


def without_courtesies(text: str) -> str:
    """The reply without greeting, thanks, smile and last full stop; the whole of it where it is nothing else.

    >>> without_courtesies("Good morning, closed porch, thanks!")
    'closed porch'
    >>> without_courtesies("hello!"), without_courtesies("thanks a lot")
    ('hello', 'thanks a lot')
    """
    text = _MISSENT.sub("", text) or text
    begun = _LEAD.sub("", _SMILES.sub("", re.sub(r"[^\S\n]+", " ", text).strip()))
    ended = _TAIL.sub("", begun)
    said = begun if _BARE_PRAISE.fullmatch(ended) else ended  # "ok thanks" is thanks, where "ok" would be "done"
    return _STOPS.sub("", said) or text
