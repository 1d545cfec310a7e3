"""The SQL engines that add up: the embedded one, and a distributed one that exists already. Both get the same text."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Protocol

from lapwise.engine.guild.needs import needed


class Engine(Protocol):
    """What the queries need of an engine."""

    def parquet(self, name: str, path: Path) -> None:
        """Make a Parquet file known under a name."""

    def table(self, name: str, sql: str) -> None:
        """Work out a query and keep the result under a name, in place of one that had it."""

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        """The rows of a query."""

    def close(self) -> None:
        """Let go of everything."""


class DuckDB:
    """DuckDB in this process. ``work``: a folder for what does not fit in memory; ``memory``: for example ``2GB``."""

    def __init__(self, work: Path, memory: str = "2GB") -> None:
        duckdb = needed("duckdb", "adding up")
        self._connection = duckdb.connect(
            str(work / "pool.duckdb"),
            config={"memory_limit": memory, "temp_directory": str(work), "preserve_insertion_order": "false"},
        )
        self._connection.execute("SET enable_progress_bar = false")

    def parquet(self, name: str, path: Path) -> None:
        quoted = str(path).replace("'", "''")
        self._connection.execute(f"CREATE OR REPLACE VIEW {name} AS SELECT * FROM read_parquet('{quoted}')")

    def table(self, name: str, sql: str) -> None:
        self._connection.execute(f"CREATE OR REPLACE TABLE {name} AS {sql}")

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        return list(self._connection.execute(sql).fetchall())

    def close(self) -> None:
        self._connection.close()


class Spark:
    """An Apache Spark session: ``local[2]`` on this machine, or the address of a cluster."""

    def __init__(self, master: str = "local[2]") -> None:
        sql = needed("pyspark.sql", "adding up on Spark (pip install pyspark; Java 17)")
        builder = sql.SparkSession.builder.master(master).appName("lapwise-guild")
        for key, value in (
            ("ui.enabled", "false"),
            ("sql.shuffle.partitions", "4"),
            ("ui.showConsoleProgress", "false"),
        ):
            builder = builder.config(f"spark.{key}", value)
        self._spark = builder.getOrCreate()
        self._spark.sparkContext.setLogLevel("ERROR")

    def parquet(self, name: str, path: Path) -> None:
        self._spark.read.parquet(str(path)).createOrReplaceTempView(name)

    def table(self, name: str, sql: str) -> None:
        kept = self._spark.sql(sql).localCheckpoint()
        kept.createOrReplaceTempView(name)

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        return [tuple(row) for row in self._spark.sql(sql).collect()]

    def close(self) -> None:
        self._spark.stop()
