"""One thread for linear algebra, before numpy is loaded: threads that wait for each other cost the tests more than they
save, most of all where something else runs beside them."""

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")
