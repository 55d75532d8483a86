"""Writers: from the plan to files, one module an output. None of them works a connection out for itself."""
