"""Things that are looked at before they are kept: the last few, held in memory, no more of them than may be."""

import threading
from collections import OrderedDict
from collections.abc import Hashable
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Held(Generic[K, V]):
    """Holds the last `most` that were held or asked for, of `most_bytes` together, the newest always excepted."""

    def __init__(self, *, most: int, most_bytes: int) -> None:
        self.most, self.most_bytes = most, most_bytes
        self._held: OrderedDict[K, tuple[V, int]] = OrderedDict()
        self._mine = threading.Lock()
        """Work holds from its lane while pages ask from theirs."""

    def hold(self, key: K, value: V, *, size_bytes: int) -> None:
        """Hold one, and let go of the oldest."""
        with self._mine:
            held = self._held
            held[key] = (value, size_bytes)
            held.move_to_end(key)
            while len(held) > 1 and (len(held) > self.most or sum(size for _, size in held.values()) > self.most_bytes):
                held.popitem(last=False)

    def get(self, key: K) -> V | None:
        """One of them; None if it is held no more."""
        with self._mine:
            if key not in self._held:
                return None
            self._held.move_to_end(key)
            return self._held[key][0]

    def __len__(self) -> int:
        """How many are held."""
        with self._mine:
            return len(self._held)

    def let_go(self, key: K) -> None:
        """Forget one."""
        with self._mine:
            self._held.pop(key, None)
