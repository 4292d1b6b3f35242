"""The same reading and measuring with ezdxf and shapely: python benches/shape_reference.py FILE.

Curves are flattened to 0.001 mm, so the area is near, not exact. Loose pieces are joined by shapely's polygonize.
"""

import sys
import time

import ezdxf
from ezdxf import path
from shapely import set_precision
from shapely.geometry import LineString
from shapely.ops import polygonize, unary_union

begun = time.perf_counter()
doc = ezdxf.readfile(sys.argv[1])
lines = []
for entity in doc.modelspace():
    points = [(p.x, p.y) for p in path.make_path(entity).flattening(0.001)]
    lines.append(set_precision(LineString(points), 1e-6))
polygons = list(polygonize(unary_union(lines)))
largest = max(polygons, key=lambda p: p.area)
rectangle = largest.minimum_rotated_rectangle
print(f"{time.perf_counter() - begun:.3f} s, area {largest.area:.6f}, perimeter {largest.length:.6f}, valid {largest.is_valid}")
