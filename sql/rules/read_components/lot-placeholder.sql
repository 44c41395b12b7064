-- A recall goes by lot and serial number; a placeholder finds nobody.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    concat_ws(', ', nullif(lot_text, ''), nullif(serial_text, ''))
-- text:     The lot or serial number is a placeholder; please send the one on the label.

regexp_full_match(lower(trim(lot_text)), '(0+|x+|-+|[?]+|n[/.]?a[.]?|n[.]a[.]|none|unknown|unk|not[ -]recorded|tbd|test)')
or regexp_full_match(lower(trim(serial_text)), '(0+|x+|-+|[?]+|n[/.]?a[.]?|n[.]a[.]|none|unknown|unk|not[ -]recorded|tbd|test)')
