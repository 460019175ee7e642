"""Loading a release, from SQL rows to a graph that can be asked."""

from collections.abc import Iterator

import sqlalchemy as sa

from catalog import tables
from service.api.live import Live
from tests.bench.results import Result, slower
from tests.bench.setting import Setting
from tests.bench.timing import interleaved


def load(setting: Setting) -> Iterator[Result]:
    """A fresh holder of the live release made ready, against SQLAlchemy Core merely fetching the same rows."""
    for parts in setting.sizes:
        url = setting.database(parts)
        setting.forget()

        def ours(url: str = url) -> None:
            live = Live(url)
            live.graph()
            live.close()

        def peer(url: str = url) -> int:
            engine = sa.create_engine(url)
            with engine.connect() as connection:
                count = sum(
                    len(connection.execute(sa.select(*tables.content_of(table)).where(tables.seen_by(table, 1))).all())
                    for table in tables.VERSIONED
                )
            engine.dispose()
            return count

        samples = interleaved({"ours": ours, "peer": peer}, setting.seconds)
        limit = 6 if parts == 100_000 else None
        what = f"release load, {parts:,} parts, SQL to ready"
        yield slower(what, samples["ours"], samples["peer"], "SQLAlchemy Core fetching the same rows", limit)
