"""The sums in SQL, in the words that DuckDB and Spark both read. Nothing here is worked out row by row in Python.

``given`` holds a row for each share and cell (trials and hits in millionths), ``benches`` a row for each bench,
``pairs`` what the shipped knowledge says of each remedy against each cause and of each cause, ``groups`` the stones
with the group each belongs to, the laps and the compounds.

A bench counts for no more than ``kappa`` trials in any cell: its weight is kappa / (kappa + its trials), the same worth
that trials elsewhere have in learning. A noised share keeps its weight (or noise and weight would hang together), but
what it says is cut off where neither trials nor noise would reach. A bench whose numbers lie much farther from those of
all the others than theirs do is named and left out (``far``): its mean squared deviation, over all cells, in units of
what chance and the usual difference between benches would give, against the median of all benches.
"""

from __future__ import annotations

OUTLIER_CELLS = 20
"""A bench with few cells is taken for an ordinary one to this degree: as if it had as many ordinary cells more."""
OUTLIER_SPREADS = 4.0
OUTLIER_LEAST = 0.4
"""How far out a bench must lie: spreads beyond the median, and at least this much, on the logarithm. Judgement, set on
simulated guilds that are not reported: hardly one honest bench in a hundred is left out."""
FEWEST_TO_JUDGE = 8
"""With fewer benches nobody can be told to be the odd one."""

MOST_NUMBERS = 8000
"""The best founded are kept, so that the file is read in a second; the rest stands in the wider groups."""

CELLS = """
SELECT g.bench AS bench, p.pair AS pair, q.grp AS grp,
       SUM(CAST(g.trials AS DOUBLE)) / 1000000.0 AS t, SUM(CAST(g.hits AS DOUBLE)) / 1000000.0 AS h, COUNT(*) AS n
FROM given g
JOIN pairs p ON g.kind = p.kind AND g.remedy = p.remedy AND g.cause = p.cause
JOIN groups q ON g.level = q.level AND g.name = q.name
GROUP BY g.bench, p.pair, q.grp
"""

KNOWN = "SELECT (SELECT COUNT(*) FROM given) - (SELECT COALESCE(SUM(n), 0) FROM cells)"

UNKNOWN = """
SELECT CASE WHEN p.pair IS NULL THEN 'pair' ELSE q.what END AS what, g.level AS level, COUNT(*) AS n
FROM given g
LEFT JOIN pairs p ON g.kind = p.kind AND g.remedy = p.remedy AND g.cause = p.cause
LEFT JOIN (SELECT level, name, 'known' AS what FROM groups) q ON g.level = q.level AND g.name = q.name
WHERE p.pair IS NULL OR q.what IS NULL
GROUP BY 1, 2
"""

POOLED = """
SELECT pair, grp, SUM(w * t) AS t, SUM(w * h) AS h, COUNT(*) AS n
FROM (
    SELECT c.pair AS pair, c.grp AS grp, c.t AS t, c.h AS h,
           CASE WHEN b.scale > 0
                THEN LEAST(1.0, (p.kappa + 4.0 * b.scale) / GREATEST(ABS(c.t), ABS(c.h), 0.000001))
                ELSE p.kappa / (p.kappa + GREATEST(c.t, ABS(c.h))) END AS w
    FROM cells c JOIN pairs p ON c.pair = p.pair JOIN benches b ON c.bench = b.bench
    WHERE {only} c.bench NOT IN (SELECT bench FROM far)
) weighted
GROUP BY pair, grp
"""
"""``only``: a condition that ends in AND, or nothing."""

CENTRE = """
SELECT p.pair AS pair, p.kind AS kind, p.kappa AS kappa,
       LEAST(p.high, GREATEST(p.low, (c.h + p.prior * p.shipped) / (GREATEST(c.t, 0.0) + p.prior))) AS m
FROM pooled c JOIN pairs p ON c.pair = p.pair JOIN groups q ON c.grp = q.grp WHERE q.level = 'all'
"""

DEVIATION = """
SELECT c.bench AS bench, COUNT(*) AS cells,
       SUM((c.h - c.t * m.m) * (c.h - c.t * m.m) / (
           CASE WHEN m.kind = 'fix'
                THEN c.t * m.m * (1.0 - m.m) * (1.0 + (GREATEST(c.t, 1.0) - 1.0) / (m.kappa + 1.0))
                ELSE c.t * m.m * (1.0 + c.t / m.kappa) END
           + 2.0 * b.scale * b.scale * (1.0 + m.m * m.m))) AS z
FROM cells c
JOIN centre m ON c.pair = m.pair
JOIN groups q ON c.grp = q.grp
JOIN benches b ON c.bench = b.bench
WHERE q.level = 'all' AND c.t >= 0.5
GROUP BY c.bench
"""

SCORED = f"""
SELECT d.bench AS bench, d.cells AS cells,
       LN((d.z + {OUTLIER_CELLS}.0 * m.middle + 0.000001) / (d.cells + {OUTLIER_CELLS}.0)) AS x
FROM deviation d CROSS JOIN (SELECT MEDIAN(z / cells) AS middle FROM deviation) m
"""

FAR = f"""
SELECT s.bench AS bench, s.x - m.middle AS x
FROM scored s
CROSS JOIN (SELECT MEDIAN(x) AS middle FROM scored) m
CROSS JOIN (SELECT MEDIAN(ABS(s.x - m.middle)) AS spread, COUNT(*) AS n
            FROM scored s CROSS JOIN (SELECT MEDIAN(x) AS middle FROM scored) m) a
WHERE a.n >= {FEWEST_TO_JUDGE} AND s.x - m.middle > {OUTLIER_LEAST} + {OUTLIER_SPREADS} * 1.4826 * a.spread
"""

NOBODY = "SELECT bench, 0.0 AS x FROM benches WHERE bench < 0"

LIFTED = """
SELECT c.pair AS pair,
       CASE WHEN q.depth = {depth} AND (c.t < {trials} OR c.n < {benches}) THEN q.up ELSE c.grp END AS grp,
       SUM(c.t) AS t, SUM(c.h) AS h, MAX(c.n) AS n
FROM {source} c JOIN groups q ON c.grp = q.grp
WHERE CASE WHEN q.depth = {depth} AND (c.t < {trials} OR c.n < {benches}) THEN q.up ELSE c.grp END >= 0
GROUP BY 1, 2
"""
"""Cells of a group at ``depth`` with too little behind them go to the group it belongs to, or nowhere (-1)."""

RESULT = f"""
SELECT p.kind AS kind, q.level AS level, q.name AS name, p.remedy AS remedy, p.cause AS cause, c.t, c.h, c.n
FROM {{source}} c JOIN pairs p ON c.pair = p.pair JOIN groups q ON c.grp = q.grp
WHERE c.t >= {{trials}} AND c.n >= {{benches}}
ORDER BY CASE WHEN q.level = 'all' THEN 0 ELSE 1 END, ROUND(c.t, 6) DESC, kind, level, name, remedy, cause
LIMIT {MOST_NUMBERS}
"""
