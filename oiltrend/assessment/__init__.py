"""Arrays in, verdict out: the only place that knows the whole chain."""
