"""The tables of photos."""

from sqlalchemy import Index, Integer, Text

from feedwright.records.columns import needed, optional, record

photos = record(
    "photos",
    needed("machine_id", Integer, "machines.id", "photos"),
    needed("taken_utc", Integer),
    needed("sha256", Text),
    needed("bytes_count", Integer),
    needed("width_px", Integer),
    needed("height_px", Integer),
    optional("visit_entry_id", Integer, "visit_entries.id", "photos"),
    needed("note", Text),
)

photo_subjects = record(
    "photo_subjects",
    needed("machine_id", Integer, "machines.id", "photo_subjects"),
    needed("photo_id", Integer, "photos.id", "photo_subjects"),
    needed("fitting_id", Integer, "fittings.id", "photo_subjects"),
    optional("finding_id", Integer, "findings.id", "photo_subjects"),
)

RECORDS = (photos, photo_subjects)

Index("ix_photos_machine", photos.c.machine_id)
Index("ix_photos_sha256", photos.c.sha256)
Index("ix_photo_subjects_machine", photo_subjects.c.machine_id)
