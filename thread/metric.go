package thread

import "strings"

// MetricFamily is the ISO general purpose metric thread.
const MetricFamily Family = "M"

func metricFamily() family {
	return family{
		info: FamilyInfo{
			Name: MetricFamily, What: "ISO metric general purpose threads, 60°", Standard: "ISO 68-1, 261, 262, 965-1",
			Examples: []string{"M10", "M10x1.5-6g", "M10 x 1.25 LH - 4g6g", "M20xPh3P1.5-6H"},
		},
		claims: func(c *callout) bool { return strings.HasPrefix(c.fold, "M") },
		parse:  func(c *callout) (Thread, error) { return Thread{}, c.errorf("", "metric threads are not read yet") },
	}
}
