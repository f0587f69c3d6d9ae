"""The pages, one module for each flow; each has its routes beside it in :mod:`lastscrew.bench.urls`."""
