CREATE TABLE pattern (
	id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	file TEXT NOT NULL, 
	digest TEXT NOT NULL, 
	size_bytes INTEGER NOT NULL, 
	units TEXT NOT NULL, 
	added_at TEXT NOT NULL, 
	removed_at TEXT, leave_out TEXT DEFAULT '[]' NOT NULL, 
	CONSTRAINT pk_pattern PRIMARY KEY (id)
) STRICT;
CREATE INDEX ix_pattern_digest ON pattern (digest);
CREATE TABLE run (
	id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	form TEXT NOT NULL, 
	made_at TEXT NOT NULL, 
	changed_at TEXT NOT NULL, 
	removed_at TEXT, 
	CONSTRAINT pk_run PRIMARY KEY (id), 
	CONSTRAINT uq_run_number UNIQUE (number)
) STRICT;
CREATE TABLE run_piece (
	run_id INTEGER NOT NULL, 
	pattern_id INTEGER NOT NULL, 
	count INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	CONSTRAINT pk_run_piece PRIMARY KEY (run_id, pattern_id), 
	CONSTRAINT ck_run_piece_count CHECK (count >= 1), 
	CONSTRAINT fk_run_piece_run_id_run FOREIGN KEY(run_id) REFERENCES run (id) ON DELETE CASCADE, 
	CONSTRAINT fk_run_piece_pattern_id_pattern FOREIGN KEY(pattern_id) REFERENCES pattern (id)
) STRICT;
CREATE TABLE result (
	id INTEGER NOT NULL, 
	pattern_id INTEGER, 
	run_id INTEGER, 
	asked TEXT NOT NULL, 
	data TEXT NOT NULL, 
	made_at TEXT NOT NULL, 
	CONSTRAINT pk_result PRIMARY KEY (id), 
	CONSTRAINT ck_result_of_one CHECK ((pattern_id IS NULL) <> (run_id IS NULL)), 
	CONSTRAINT fk_result_pattern_id_pattern FOREIGN KEY(pattern_id) REFERENCES pattern (id) ON DELETE CASCADE, 
	CONSTRAINT fk_result_run_id_run FOREIGN KEY(run_id) REFERENCES run (id) ON DELETE CASCADE
) STRICT;
CREATE INDEX ix_result_pattern_id ON result (pattern_id);
CREATE INDEX ix_result_run_id ON result (run_id);
CREATE TABLE result_file (
	result_id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	digest TEXT NOT NULL, 
	CONSTRAINT pk_result_file PRIMARY KEY (result_id, name), 
	CONSTRAINT fk_result_file_result_id_result FOREIGN KEY(result_id) REFERENCES result (id) ON DELETE CASCADE
) STRICT;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO alembic_version VALUES ('0002');
INSERT INTO pattern VALUES (1, 'Heddle band', 'heddle.stl', '2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e73043362938b9824', 5, 'mm', '2026-11-26T05:00:00.000000+00:00', NULL, '["stone"]');
INSERT INTO run VALUES (1, 14, '{"alloy": "sterling-925"}', '2026-11-26T05:00:00.000000+00:00', '2026-11-26T05:10:00.000000+00:00', NULL);
INSERT INTO run_piece VALUES (1, 1, 6, 0);
INSERT INTO result VALUES (1, 1, NULL, '{}', '{"metal_g": 3.2}', '2026-11-26T05:00:01.000000+00:00');
INSERT INTO result_file VALUES (1, 'picture.png', '2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e73043362938b9824');
