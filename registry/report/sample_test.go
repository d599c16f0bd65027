package report

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// sample invents rows and visits: a stated share of separations, tears and
// failures, drawn from a fixed seed.
func sample(seed uint64, n int) Data {
	r := rand.New(rand.NewPCG(seed, 42))
	in := func(k int) int { return int(r.Uint64() % uint64(k)) }
	pick := func(words ...string) string { return words[in(len(words))] }
	often := func(percent int, a, b string) string {
		if in(100) < percent {
			return a
		}
		return b
	}
	lens := func(cylinder float64) (m, j0, j45 string) {
		m0, c := float64(in(24))/-4-1-cylinder/2, cylinder/2
		sin, cos := math.Sincos(2 * float64(1+in(180)) * math.Pi / 180)
		two := func(x float64) string {
			if math.Abs(x) < 1e-9 {
				x = 0 // no -0.00
			}
			return fmt.Sprintf("%.2f", x)
		}
		return two(m0), two(c * cos), two(c * sin)
	}
	d := Data{Ordered: true}
	for i := range n {
		key := fmt.Sprintf("r%06d", i)
		row := Cells{"row_key": key, "person_key": fmt.Sprintf("p%06d", i*9/10), "eye": pick("right", "left"), "operation_year": pick("2025", "2026"),
			"indication":          often(62, "keratoconus", pick("scar-infective", "macular-dystrophy", "granular-dystrophy", "NR")),
			"procedure_performed": often(60, "double-bubble", pick("air-big-bubble", "viscodissection", "manual-layered")),
			"attempts":            "1", "separation": often(74, "complete", pick("partial", "none", "none")), "bubble_type": "NA",
			"microperforations": often(8, "1", "0"), "macroperforations": "0", "sex": often(97, pick("female", "male"), "NS"),
			"thinnest_um": often(85, "372", pick("NM", "NP", "NS")), "host_diameter_mm": "7.75"}
		for _, f := range content().Events {
			row[f.Column] = often(4, "1", "0")
		}
		switch row["procedure_performed"] {
		case "manual-layered":
			row["attempts"], row["separation"] = "0", "none"
		default:
			if row["separation"] != "none" {
				row["bubble_type"] = often(88, "type-1", pick("type-2", "mixed", "not-determinable"))
			} else if in(6) == 0 {
				row["macroperforations"] = "1"
				row["procedure_performed"] = often(50, "converted-penetrating", row["procedure_performed"])
			}
		}
		row["attempts_air"], row["attempts_viscoelastic"], row["attempts_fluid"] = row["attempts"], "0", "0"
		if row["procedure_performed"] == "viscodissection" { // after air, or without
			row["attempts"], row["attempts_viscoelastic"] = "2", "1"
			if i%4 == 0 {
				row["attempts"], row["attempts_air"] = "1", "0"
			}
		}
		row["corrected_before_class"], row["corrected_before_logmar"] = "chart", fmt.Sprintf("%.2f", 0.2+float64(in(16))/10)
		if in(9) == 0 {
			row["corrected_before_class"], row["corrected_before_logmar"] = pick("CF", "HM", "letters"), "NC"
		}
		row["refraction_before_se"], row["refraction_before_j0_d"], row["refraction_before_j45_d"] = lens(float64(4+in(20)) / 4)
		if in(5) == 0 {
			row["refraction_before_se"], row["refraction_before_j0_d"], row["refraction_before_j45_d"] = "NP", "NP", "NP"
		}
		d.Rows = append(d.Rows, row)
		failing := in(14) == 0
		for _, month := range []int{3, 6, 12, 24, 36} {
			if in(8) == 0 || in(n) < i && month > 12 {
				continue
			}
			v := Cells{"row_key": key, "months": fmt.Sprint(month + in(2)), "graft_status": "surviving", "visit_eye": row["eye"], "rejection": often(4, "stromal", "none"),
				"double_chamber": "none", "late_events": often(3, pick("cataract", "fixed-dilated-pupil", "suture-problem|infection"), "none"), "further_surgery": "none",
				"corrected_class": "chart", "corrected_logmar": fmt.Sprintf("%.2f", float64(in(8))/10-0.1), "failure_months": "NA"}
			v["refraction_se"], v["refraction_j0_d"], v["refraction_j45_d"] = lens(float64(2+in(18)) / 4)
			if failing && month >= 12 {
				v["graft_status"], v["failure_months"] = "failed", fmt.Sprint(month-2)
			}
			d.FollowUps = append(d.FollowUps, v)
			if failing && month >= 12 {
				break
			}
		}
	}
	return d
}

// Cells are a row as a plain map.
type Cells map[string]string

// Cell is the cell of a column.
func (c Cells) Cell(column string) string { return c[column] }
