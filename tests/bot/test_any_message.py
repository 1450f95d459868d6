"""Whatever a phone sends is answered or let pass, and nothing of it breaks the reply path."""

from pathlib import Path

from tests.bot.message_batch import Batch


def test_of_two_hundred_arbitrary_messages_none_is_a_fault(tmp_path: Path) -> None:
    batch = Batch(tmp_path, seed=8)
    try:
        assert batch.run(200) == []
    finally:
        batch.logbook.close()
    assert batch.sent > 50  # they were read and answered, not let pass
