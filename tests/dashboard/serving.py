"""The real server on a free port, for as long as a test lasts."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from oiltrend.dashboard.serve import make_server
from oiltrend.store import Store


@contextmanager
def served(store: Store) -> Iterator[str]:
    """Serve a store and give its address; at the end the server's thread has ended too."""
    server = make_server(store, port=0)

    def end() -> None:
        # Browsers keep their connections open; the loop runs until the last one is closed.
        for open_end in list(server._map.values()):
            open_end.close()

    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        server.trigger.pull_trigger(end)
        thread.join(timeout=5)
        server.task_dispatcher.shutdown()
    assert not thread.is_alive()
