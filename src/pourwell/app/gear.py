"""The studio's own equipment and settings on pages: fields over `studio.toml`, held to the model that reads it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import tomlkit

from pourwell.app.asked import Asked, choice_of, days_of, text_of, value_of
from pourwell.app.desk_words import TIMES
from pourwell.app.own_rows import OWN
from pourwell.app.typed import NotYetError, Span
from pourwell.errors import BadDataError
from pourwell.files.own_toml import ABSENT, Key, add_to_list, change, rewrite, table_of, value_at
from pourwell.materials.studio import STUDIO_FILE, Base, load_studio, studio_of
from pourwell.materials.weekdays import NAMES, day_off
from pourwell.sheets.display import THIN

ASSUMED: Final = "assumed"
NOT_SAID: Final = "not said"
CALIBRATED: Final = "measured, by your calibration"
AS_WHOLE: Final = ("", "as a whole")
YES_NO: Final = (("no", "no"), ("yes", "yes"))
WAYS: Final = {
    "vacuum": "vacuum assist",
    "centrifuge": "centrifuge",
    "gravity": "gravity",
    "torch": "torch",
    "electric": "electric furnace",
    "induction": "induction",
}
NAMES_MM: Final = (5, 2000)


def _number(name: str, label: str, *, span: tuple[float, float], unit: str, help: str = "", count: bool = False) -> Asked:
    low, high = span
    return Asked(key=(name,), label=label, kind="count" if count else "number", span=Span(low=low, high=high, unit=unit), help=help)


def _yes(name: str, label: str, help: str = "") -> Asked:
    return Asked(key=(name,), label=label, kind="yes", options=YES_NO, help=help)


KILN: Final = (
    Asked(key=("name",), label="Name", kind="words", help="where there are several"),
    _number("segments_count", "Segments", span=(0, 99), unit="", count=True, help="ramp and hold; 0: set by hand"),
    _number("hottest_c", "Hottest", span=(300, 1700), unit="°C"),
    _number("fall_c_per_h", "Falls, door shut", span=(10, 1500), unit="°C/h", help="from 732 °C note the time to 550 °C"),
    _number("rise_c_per_h", "Climbs at full power", span=(10, 3000), unit="°C/h"),
    _number("error_k", "Thermocouple wrong by", span=(0, 60), unit="K"),
    _number("hot_spot_k", "Hottest place over it", span=(0, 100), unit="K"),
    _number("overshoot_k", "Overshoot", span=(0, 100), unit="K"),
    _number("holding_kw", "Draw, holding 730 °C", span=(0.05, 50), unit="kW"),
    _number("flasks_count", "Flasks at once", span=(1, 100), unit="", count=True),
    _number("width_mm", "Room, width", span=(50, 3000), unit="mm"),
    _number("depth_mm", "Room, depth", span=(50, 3000), unit="mm"),
    _number("height_mm", "Room, height", span=(50, 3000), unit="mm"),
    _yes("delayed_start", "Begins by itself", "when nobody is there"),
)
CASTING: Final = (
    Asked(key=("way",), label="Cast by", kind="choice", options=choice_of(("vacuum", "centrifuge", "gravity"), WAYS)),
    _number("vacuum_kpa", "Vacuum under the flask", span=(1, 101.9), unit="kPa", help="gauge, at the pour"),
)
MELTING: Final = (
    Asked(key=("way",), label="Melted by", kind="choice", options=choice_of(("torch", "electric", "induction"), WAYS)),
    _number("crucible_cm3", "Crucible, full", span=(0.5, 5000), unit="cm³", help="fill it with water and weigh: 1 g is 1 cm³"),
    _yes("thermometer", "Thermometer", "without one the sheet tells what the metal looks like"),
)
VACUUM: Final = (
    _yes("bowl", "Bowl under vacuum"),
    _yes("flask", "Flask under vacuum"),
)
PRINTER: Final = (
    _number("layer_mm", "Layer", span=(0.005, 0.5), unit="mm"),
    _number("light_s", "Light on a layer", span=(0.05, 200), unit="s"),
    _number("lift_s", "All else of a layer", span=(0, 120), unit="s"),
    _number("bottom_layers_count", "First layers", span=(0, 100), unit="", count=True),
    _number("bottom_light_s", "Light on these", span=(0.05, 600), unit="s"),
    _number("stand_mm", "Stands on supports", span=(0, 50), unit="mm"),
    _number("width_mm", "Builds, width", span=NAMES_MM, unit="mm"),
    _number("depth_mm", "Builds, depth", span=NAMES_MM, unit="mm"),
    _number("height_mm", "Builds, height", span=NAMES_MM, unit="mm"),
    Asked(key=("currency",), label="Currency of prices", kind="words", help="as EUR"),
)
BASE: Final = (
    _number("fits_mm", "Fits flasks of", span=(10, 400), unit="mm", help="inside diameter; empty: any"),
    _number("depth_mm", "Sits so deep", span=(0, 100), unit="mm"),
    _number("dome_diameter_mm", "Dome, diameter", span=(1, 300), unit="mm"),
    _number("dome_height_mm", "Dome, height", span=(0.5, 100), unit="mm"),
    _number("socket_mm", "Socket of the stem", span=(1, 50), unit="mm"),
    _number("weight_g", "Weight", span=(0.1, 5000), unit="g"),
)
HOURS: Final = (
    Asked(key=("work_from",), label="At work from", kind="hour"),
    Asked(key=("work_to",), label="to", kind="hour"),
    Asked(key=("easy_from",), label="Comfortable from", kind="hour", help="work is kept in these hours where it can be"),
    Asked(key=("easy_to",), label="until", kind="hour"),
    Asked(key=("sleep_from",), label="Asleep from", kind="hour"),
    Asked(key=("sleep_to",), label="up at", kind="hour"),
)
NIGHT: Final = (_yes("overnight_firing", "Kiln on overnight", "may a kiln be on while everybody sleeps"),)
PLACE: Final = (
    Asked(key=("name",), label="Name of the studio", kind="words", help="stands on the sheet"),
    Asked(key=("time_zone",), label="Time zone", kind="words", help="as Europe/Lisbon; empty: this machine's"),
    _number("altitude_m", "Height over the sea", span=(-450, 6000), unit="m", help="at which vacuum water boils"),
)
SHOWN: Final = (
    Asked(
        key=("display",),
        label="As a whole",
        kind="choice",
        options=(("metric", "metric, 24 hours"), ("imperial", "imperial, am and pm")),
    ),
    Asked(key=("shown", "length"), label="Lengths", kind="choice", options=(AS_WHOLE, ("mm", "millimetres"), ("inch", "inches"))),
    Asked(key=("shown", "temperature"), label="Temperatures", kind="choice", options=(AS_WHOLE, ("C", "°C"), ("F", "°F"))),
    Asked(
        key=("shown", "weight"),
        label="Metal weights",
        kind="choice",
        options=(AS_WHOLE, ("g", "grams"), ("dwt", "pennyweights"), ("ozt", "troy ounces")),
    ),
)
PAPER: Final = (
    Asked(key=("shown", "decimal"), label="Numbers", kind="choice", options=(("point", "1,234.5"), ("comma", f"1{THIN}234,5"))),
    Asked(key=("paper",), label="Paper", kind="choice", options=(("a4", "A4"), ("us-letter", "US Letter"))),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GearLine:
    """One key of studio.toml as a page tells it."""

    asked: Asked
    """With its whole key, as ("kiln", "error_k")."""
    text: str
    grade: str
    kept: Any


class Gear:
    """What studio.toml says, as it stands when this is made. Raises BadDataError."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.path = folder, folder / STUDIO_FILE
        self.table = table_of(self.path)
        self.studio = load_studio(folder)

    def lines(self, fields: tuple[Asked, ...], at: Key = ()) -> list[GearLine]:
        """The fields of one table of the file, such as ("kiln",) or ("bases", 0)."""
        return [self._line(asked, at) for asked in fields]

    def kilns(self) -> list[Key]:
        """Where the kilns stand in the file; one at least, though it may not be there yet."""
        several = self.table.get("kilns")
        return [("kilns", k) for k in range(len(several))] if isinstance(several, list) and several else [("kiln",)]

    def bases(self) -> list[Key]:
        """Where the rubber bases stand."""
        return [("bases", k) for k in range(len(self.table.get("bases", [])))]

    def listed_flasks(self) -> list[tuple[Key, str]]:
        """The flasks that studio.toml itself lists: where, and what it says of each."""
        listed = self.table.get("flasks", [])
        return [(("flasks", k), one if isinstance(one, str) else _flask_words(one)) for k, one in enumerate(listed)]

    def _line(self, asked: Asked, at: Key) -> GearLine:
        key = (*at, *asked.key)
        kept = value_at(self.table, key)
        whole = replace(asked, key=key)
        value = self._meant(at, asked.key)
        dotted = ".".join(str(part) for part in (("kiln", *asked.key) if at[:1] == ("kilns",) and at[1:] == (0,) else key))
        grade = OWN if kept is not ABSENT else CALIBRATED if dotted in self.studio.measured else ASSUMED
        if value is None or value == "":
            grade = NOT_SAID
        return GearLine(asked=whole, text=text_of(asked, value), grade=grade, kept=kept)

    def _meant(self, at: Key, key: Key) -> Any:
        """The value that a plan leans on: what is said, what is measured, or what is assumed."""
        found: Any = self.studio
        for part in (*at, *key):
            found = found[part] if isinstance(part, int) else getattr(found, part)
        return found

    # ---- changes; each returns once it is on the disk

    def set(self, line: GearLine, text: str) -> None:
        """Keep what was typed. Raises NotYetError, and as `own_toml.change`."""
        key = line.asked.key
        change(self.path, {key: value_of(line.asked, text)}, was={key: line.kept}, check=self.check)

    def check(self, table: dict[str, Any]) -> None:
        """Whether a changed table is still a studio. Raises NotYetError."""
        try:
            studio_of(table, self.folder)
        except BadDataError as err:
            reason = err.what.removeprefix(f"{self.path}: ").rstrip(".")
            raise NotYetError(f"{_in_words(reason)}. {err.why}".strip()) from err

    def weekdays_off(self) -> tuple[bool, ...]:
        """Whether nobody works, Monday to Sunday."""
        off = {day_off(name) for name in self.studio.days_off}
        return tuple(number in off for number in range(len(NAMES)))

    def dates_off(self) -> str:
        """Single days off, as they are typed."""
        return ", ".join(name for name in self.studio.days_off if not isinstance(day_off(name), int))

    def set_weekday_off(self, number: int, *, off: bool) -> None:
        """Say whether nobody works on a day of every week; all else of the list stays. Raises as `set`."""
        listed = list(self.table.get("days_off", []))
        rest = [name for name in listed if day_off(name) != number]
        self._set_days([*rest, NAMES[number].capitalize()] if off else rest)

    def set_dates_off(self, text: str) -> None:
        """Say the single days off; days of the week stay. Raises as `set`."""
        weekly = [name for name in self.table.get("days_off", []) if isinstance(day_off(name), int)]
        dates = days_of(text)
        for name in dates:
            if isinstance(day_off(name), int):
                raise NotYetError(f"{name} is a day of every week: tick it off above. Enter dates as 2026-12-24.")
        self._set_days([*weekly, *dates])

    def _set_days(self, days: list[str]) -> None:
        was = self.table.get("days_off", ABSENT)
        change(self.path, {("days_off",): days or ABSENT}, was={("days_off",): was}, check=self.check)

    def add_kiln(self) -> None:
        """One more kiln. The first then needs a name, for a sheet says which is meant."""
        if not isinstance(self.table.get("kilns"), list):
            self._kiln_to_list()
        names = {str(kiln.get("name", "")) for kiln in table_of(self.path).get("kilns", [])}
        name = next(f"kiln {k}" for k in range(2, len(names) + 3) if f"kiln {k}" not in names)
        add_to_list(self.path, ("kilns",), {"name": name}, check=self.check)

    def _kiln_to_list(self) -> None:
        """`[kiln]` becomes the first of `[[kilns]]`, with all that stands in it."""

        def edit(document: Any, now: dict[str, Any]) -> None:
            first = tomlkit.table()
            old = document.get("kiln")
            if "name" not in (old or {}):
                first["name"] = "kiln 1"
            for name, item in old.value.body if old is not None else ():
                first.add(name, item) if name is not None else first.add(item)
            several = tomlkit.aot()
            several.append(first)
            if old is not None:
                del document["kiln"]
            document["kilns"] = several

        rewrite(self.path, edit, check=self.check)

    def add_base(self) -> None:
        """One more rubber base, as bases usually are."""
        usual = Base()
        entry = {key: getattr(usual, key) for key in ("depth_mm", "dome_diameter_mm", "dome_height_mm", "socket_mm")}
        add_to_list(self.path, ("bases",), entry, check=self.check)

    def remove(self, at: Key) -> Callable[[], None]:
        """Take one entry out of a list; what puts it back at its place."""
        name, place = at
        assert isinstance(name, str)
        assert isinstance(place, int)
        entry = value_at(self.table, at)
        change(self.path, {at: ABSENT}, was={at: entry}, check=self.check)
        return lambda: add_to_list(self.path, (name,), entry, place=place, check=self.check)


def _in_words(reason: str) -> str:
    """A fault of the file with the names of its keys as pages have them."""
    if reason.startswith("easy_from"):
        return "Comfortable hours lie inside the hours at work, and begin before they end"
    for key, words in IN_WORDS.items():
        reason = reason.replace(key, words)
    return reason[:1].upper() + reason[1:]


IN_WORDS: Final = {
    "work_from": "the beginning of work,",
    "work_to": "its end,",
    "time_zone: ": "",
    "kilns: ": "",
}


def _flask_words(table: Mapping[str, Any]) -> str:
    """A flask of studio.toml in words."""
    size = f"{table.get('diameter_mm', '?'):g} {TIMES} {table.get('height_mm', '?'):g} mm"
    mark = f", stamped {table['mark']}" if table.get("mark") else ""
    return f"{size}{', perforated' if table.get('perforated') else ''}{mark}"
