"""Writers: from the plan to files, one module an output. None of them works a connection out for itself."""

#: The files of an adapter, in the order in which they are written.
FILES = ("adapter.net", "wiring.csv", "wiring.md", "report.md", "parts.csv", "bench.html", "wiring.pdf")
