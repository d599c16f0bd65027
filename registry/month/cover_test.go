package month

import (
	"strings"
	"testing"
)

// The cover says what a coordinator asks of it: in words, with every column that
// was given up, and nothing of rows that nobody has accepted.
func TestCover(t *testing.T) {
	o := keyed()
	o.K = 12
	in := input(crowd(t, 60))
	for _, c := range []struct {
		by, form string
		says     []string
	}{
		{"coordinator", "", []string{
			"Made on 1 December 2026, 09:00 UTC by coordinator.\n",
			"Once this package is accepted, 60 rows of 60 people stand at the registry, and each could be that of any of at least 18 people (k = 18, asked for 12).\n",
			"- Age at surgery (age_band): withheld.\n",
			"- Pre-operative diagnosis (indication): in coarser groups, ectasia or not. Withheld with it, because they would give it back: Keratoconus stage (Amsler-Krumeich) (kc_stage), Hydrops (hydrops), ",
			"- No row is held back to hide people.\n",
			"same value of Macroperforations (macroperforations): ",
		}},
		{"", "", []string{"Made on 1 December 2026, 09:00 UTC.\n"}},
		// A registry's form has its own names, and not all of our columns.
		{"", "corvale", []string{"- Pre-operative diagnosis (DIAGNOSIS): in coarser groups, ectasia or not"}},
	} {
		in.By = c.by
		if o.Profile = nil; c.form != "" {
			o.Profile = profile(t, c.form)
		}
		cover := string(folder(t, build(t, in, o))[CoverName].Data)
		for _, says := range c.says {
			if !strings.Contains(cover, says) {
				t.Errorf("%s: not said: %s\n%s", c.form, says, cover)
			}
		}
		if c.form != "" && strings.Contains(cover, "kc_stage") {
			t.Errorf("%s: the cover names a column that is not sent\n%s", c.form, cover)
		}
	}
}
