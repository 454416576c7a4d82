"""A deed that is asked for again while it is done: once more for all who asked, never two at a time."""

import asyncio

import pytest

from pourwell.web.desk.in_turn import InTurn


def test_all_that_is_asked_for_meanwhile_is_done_once_more_and_nothing_in_between():
    async def go():
        typed, done, at_once = [""], [], [0]

        async def deed():
            at_once[0] += 1
            assert at_once[0] == 1, "never two at a time"
            seen = typed[0]
            await asyncio.sleep(0)
            await asyncio.sleep(0)
            at_once[0] -= 1
            done.append((seen, turn.wanted))

        turn = InTurn(deed)

        async def letter(text):
            typed[0] = text
            await turn.ask()

        await asyncio.gather(*(letter("brass"[: k + 1]) for k in range(5)))
        return done

    done = asyncio.run(go())
    assert [seen for seen, _ in done] == ["b", "brass"]
    assert [old for _, old in done] == [True, False], "the first knows that it is old by then"


def test_a_deed_that_fails_leaves_the_next_one_free():
    async def go():
        falls = [True]

        async def deed():
            if falls.pop(0):
                raise OSError("the disk")

        turn = InTurn(deed)
        with pytest.raises(OSError, match="the disk"):
            await turn.ask()
        falls.append(False)
        await turn.ask()
        return falls

    assert asyncio.run(go()) == []
