-- The register: one local file, append-only. PRAGMA user_version says which release's layout this is.
--
-- Only entry.leaf is hashed into the tree, and each leaf holds the salted digest of its rest; all
-- other tables are derived from leaf and rest so that questions are answered quickly, and the audit
-- derives them again and compares. The triggers below stop accidents, not an attacker: whoever can
-- write the file can drop them. What stops an attacker is the root, wherever somebody else keeps it.

-- One row an entry, numbered from 0 without gaps.
CREATE TABLE entry (
  position   INTEGER PRIMARY KEY CHECK (position >= 0),
  leaf       TEXT NOT NULL,                             -- RFC 8785 canonical JSON: what the tree hashes
  salt       BLOB NOT NULL CHECK (length(salt) = 32),   -- random, so that a digest gives nothing away
  rest       TEXT NOT NULL,                             -- canonical JSON; leaf.rest = SHA-256(salt || rest)
  -- Read out of the leaf, never stored beside it: there is nothing to fall out of step.
  kind       TEXT AS (leaf ->> '$.kind') VIRTUAL,
  at         TEXT AS (leaf ->> '$.at') VIRTUAL,
  number     TEXT AS (leaf ->> '$.number') VIRTUAL,
  stamp      TEXT AS (leaf ->> '$.stamp') VIRTUAL,
  replaces   TEXT AS (leaf ->> '$.replaces') VIRTUAL
) STRICT;
CREATE INDEX entry_kind ON entry (kind);
CREATE INDEX entry_number ON entry (number) WHERE number IS NOT NULL;
CREATE INDEX entry_stamp ON entry (stamp) WHERE stamp IS NOT NULL;
CREATE UNIQUE INDEX replaced_once ON entry (replaces) WHERE replaces IS NOT NULL;
CREATE UNIQUE INDEX withdrawn_once ON entry (number) WHERE kind = 'withdrawal';

-- Hashes of complete subtrees: (level, place) covers 2^level entries from place * 2^level on.
CREATE TABLE node (
  level      INTEGER NOT NULL CHECK (level BETWEEN 0 AND 63),
  place      INTEGER NOT NULL CHECK (place >= 0),
  hash       BLOB NOT NULL CHECK (length(hash) = 32),
  PRIMARY KEY (level, place)
) STRICT, WITHOUT ROWID;

-- The signed head after each commit: a C2SP signed note, as handed out.
CREATE TABLE checkpoint (
  size       INTEGER PRIMARY KEY CHECK (size > 0),
  text       TEXT NOT NULL
) STRICT;

-- One row an issue or amendment, or a certificate older than the register (legacy), which has a number of any
-- form, certifies no pieces here and is in force for nothing. The files come last: a row's other columns are read without them.
CREATE TABLE certificate (
  number     TEXT PRIMARY KEY,
  position   INTEGER NOT NULL UNIQUE REFERENCES entry (position),
  series     TEXT,                                      -- the number before its last part: LBF-2026
  serial     INTEGER CHECK (serial > 0),                -- the last part: 124; neither for legacy
  input      TEXT NOT NULL,                             -- digest of what was judged
  shipment   TEXT NOT NULL,                             -- which shipment it certifies
  signer     TEXT NOT NULL,
  data       BLOB NOT NULL,                             -- SHA-256 of it is the stamp
  pdf        BLOB NOT NULL,                             -- SHA-256 of it is in the leaf
  evidence   BLOB,                                      -- what it withholds; SHA-256 of it is in the rest
  UNIQUE (series, serial),
  CHECK ((series IS NULL) = (serial IS NULL))
) STRICT;
CREATE INDEX certificate_input ON certificate (input);
CREATE INDEX certificate_shipment ON certificate (shipment);

-- How many pieces of a lot a certificate certifies, and how many of that lot were accepted.
CREATE TABLE piece (
  number     TEXT NOT NULL REFERENCES certificate (number),
  lot        TEXT NOT NULL,
  pieces     INTEGER NOT NULL CHECK (pieces >= 0),
  accepted   INTEGER NOT NULL CHECK (accepted >= pieces),
  PRIMARY KEY (number, lot)
) STRICT, WITHOUT ROWID;
CREATE INDEX piece_lot ON piece (lot);

-- What a certificate is found by.
CREATE TABLE facet (
  id         INTEGER PRIMARY KEY,
  number     TEXT NOT NULL REFERENCES certificate (number),
  facet      TEXT NOT NULL,
  value      TEXT NOT NULL,
  folded     TEXT NOT NULL,                             -- value in lower case
  UNIQUE (number, facet, value)
) STRICT;
CREATE INDEX facet_folded ON facet (folded, facet);

-- Any three letters in a row find a facet. The text itself stays in facet.
CREATE VIRTUAL TABLE facet_text USING fts5 (
  folded, content = 'facet', content_rowid = 'id', columnsize = 0, tokenize = 'trigram case_sensitive 1'
);

-- What a certificate rests on, lot by lot, and between which days: an open first day counts as any.
CREATE TABLE used (
  number     TEXT NOT NULL REFERENCES certificate (number),
  turn       INTEGER NOT NULL CHECK (turn >= 0),        -- its place in the entry's list
  lot        TEXT NOT NULL,
  thing      TEXT NOT NULL,                             -- bath, instrument, solution, person, heat, load
  name       TEXT NOT NULL,
  folded     TEXT NOT NULL,                             -- name in lower case
  first      TEXT,                                      -- YYYY-MM-DD on the shop's calendar
  last       TEXT NOT NULL,
  how        TEXT NOT NULL,
  PRIMARY KEY (number, turn)
) STRICT, WITHOUT ROWID;
CREATE INDEX used_thing ON used (thing, folded, last);

-- How each certificate stands: when both last columns are NULL, current, or legacy.
CREATE VIEW standing AS
SELECT c.number, c.position, e.at, e.kind = 'legacy' AS legacy,
       (SELECT a.number FROM entry a WHERE a.replaces = c.number) AS amended_by,
       (SELECT w.position FROM entry w WHERE w.kind = 'withdrawal' AND w.number = c.number) AS withdrawn
FROM certificate c JOIN entry e ON e.position = c.position;

CREATE TRIGGER entry_kept BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER entry_stays BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER node_kept BEFORE UPDATE ON node BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER node_stays BEFORE DELETE ON node BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER checkpoint_kept BEFORE UPDATE ON checkpoint BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER checkpoint_stays BEFORE DELETE ON checkpoint BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER certificate_kept BEFORE UPDATE ON certificate BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER certificate_stays BEFORE DELETE ON certificate BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER piece_kept BEFORE UPDATE ON piece BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER piece_stays BEFORE DELETE ON piece BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER facet_kept BEFORE UPDATE ON facet BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER facet_stays BEFORE DELETE ON facet BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER used_kept BEFORE UPDATE ON used BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER used_stays BEFORE DELETE ON used BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
