"""What tests of the page of the days ahead share: the page built, worked out, and a run that has begun."""

from pourwell.app.desk_runs import asked_of
from pourwell.web.desk.days import days_page
from tests.unit.web.built import Built
from tests.unit.web.samples import NOW, at, plan, step

WORK_OUT = ("Work the days out", "Work them out again")


def built(desk, **typed):
    return Built(lambda: days_page(desk, typed))


def worked_out(desk, data, **typed):
    page = built(desk, **typed)
    page.happen(next(b for b in page.all("button", "main") if page.words(b) in WORK_OUT), "click")
    desk.crew.do(data)
    page.go_round()
    return page


def tick(page, words):
    box = next(label for label in page.all("label", "check") if words in page.words(label)).default_slot.children[0]
    page.happen(box, "ticked", not box.props["value"])


def begun(desk, run, *, kiln=""):
    """Run's plan began 20 h ago; its pour is in 4 h, and its kiln is cool enough 5 h after that."""
    made = plan(weight=True)
    made["burnout"] |= {"starts_at": at(-12), "ends_at": at(4)}
    made["pour"] |= {"at": at(4)}
    made["timeline"] = [step("invest", -18, -17, 20), step("kiln", -12, 4, 0), step("pour", 4, 4.1, 5)]
    made["kiln_free_at"] = at(9)
    made["inputs"] = {"studio": {"kiln": {"name": kiln}}}
    desk.store.add_result(run_id=run.id, asked=asked_of(run), data={"plans": [made]}, files={}, now=NOW)
