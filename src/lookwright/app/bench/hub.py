"""News for the pages: the newest of each topic, handed out to whoever waits for it."""

from __future__ import annotations

import asyncio
import threading
from typing import Any


class Hub:
    """Topics with their newest content; waiting pages get what changed since they last looked.

    Only the newest of a topic is kept, so a page that was away misses nothing that still holds, and memory stays.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._count = 0
        self._topics: dict[str, tuple[int, Any]] = {}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._news: asyncio.Event | None = None
        self.closed = False

    def tell(self, topic: str, content: Any) -> None:
        """New content of a topic; from any thread."""
        with self._lock:
            self._count += 1
            self._topics[topic] = (self._count, content)
            loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._wake)

    def close(self) -> None:
        """Send everyone home who still waits."""
        self.closed = True
        self._wake()

    async def since(self, after: int, seconds: float) -> dict[str, Any]:
        """``{"at": n, topic: content ...}`` of topics told after ``after``; empty of topics when none came in time."""
        self._loop = asyncio.get_running_loop()
        end = self._loop.time() + seconds
        while True:
            if self._news is None:
                self._news = asyncio.Event()
            news = self._news
            with self._lock:
                found = {t: c for t, (n, c) in self._topics.items() if n > after}
                count = self._count
            if after > count:  # a page of an earlier session
                after = 0
                continue
            left = end - self._loop.time()
            if found or left <= 0 or self.closed:
                return {"at": count, **found}
            try:
                await asyncio.wait_for(news.wait(), left)
            except TimeoutError:
                continue

    def _wake(self) -> None:
        if self._news is not None:
            self._news.set()
            self._news = None
