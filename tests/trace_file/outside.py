"""Wrote outside_*.x3p once, with the open-source library x3pio 2.0.0 (MIT) and NumPy; the heights are invented."""
from datetime import UTC, datetime

import numpy as np
import x3pio
from x3pio import DataStorage, DataType, Instrument, Metadata, Profile, ProbingSystem, ProbingType

x = np.arange(200)
heights = 4e-7 * np.sin(x / 9.0) + 1e-7 * np.sin(x * 1.7)
cases = {
    "outside_i": {"z_type": DataType.INT16},
    "outside_f": {"z_type": DataType.FLOAT32},
    "outside_list": {"storage": DataStorage.XML},
}
for name, options in cases.items():
    metadata = Metadata(
        date=datetime(2026, 10, 5, 8, 30, tzinfo=UTC),
        creator="Nobody",
        instrument=Instrument("Invented Works", "S1", "7", "1.0"),
        probing_system=ProbingSystem(ProbingType.CONTACTING, "2 µm, 0.75 mN"),
        comment="invented",
    )
    profile = Profile.from_array(heights, x_scale=2.5e-7, metadata=metadata, **options)
    with open(f"{name}.x3p", "wb") as file:
        file.write(profile.dumps())
    read = x3pio.read(f"{name}.x3p")
    with open(f"{name}.txt", "w") as file:
        file.writelines(f"{z!r}\n" for z in read.layers[0].z.ravel().tolist())
