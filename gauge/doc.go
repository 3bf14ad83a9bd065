// Package gauge says how a cut thread is measured and what the reading means.
package gauge
