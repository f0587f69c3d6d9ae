"""Paper and pictures: the V, the layers, the sides, the job sheet. Values in, SVG, HTML or PDF out."""
