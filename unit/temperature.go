package unit

import (
	"math"
	"strconv"
	"strings"
)

// Temperature is a temperature in degrees Celsius.
type Temperature float64

// Celsius is the unit of temperature; 20 is the reference temperature of ISO 1.
const Celsius Temperature = 1

// ParseTemperature reads a temperature: 32C, 32 °C, 90F, 90 °F. A figure alone is
// refused, since 68 is a warm room in one country and a hot part in another.
//
//	C = (F - 32) / 1.8
//
// Source: NIST SP 811, B.8.
func ParseTemperature(s string) (Temperature, error) {
	return parseDegrees(s, 32, "is not a temperature", "write it with its unit: 32C or 90F")
}

// ParseTemperatureError reads how far a temperature may be out: 2C, 3F. A degree
// Fahrenheit is 1/1.8 of a degree Celsius, whatever the zero.
func ParseTemperatureError(s string) (Temperature, error) {
	return parseDegrees(s, 0, "is not a difference of temperature", "write it with its unit: 1C or 2F")
}

func parseDegrees(s string, zero float64, reason, hint string) (Temperature, error) {
	bad := &InputError{Field: "temperature", Value: s, Reason: reason, Hint: hint}
	low := strings.ToLower(strings.TrimSpace(s))
	if len(low) < 2 || len(low) > 20 {
		return 0, bad
	}
	letter := low[len(low)-1]
	number := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(low[:len(low)-1]), "°"))
	v, err := strconv.ParseFloat(strings.Replace(strings.Replace(number, ",", ".", 1), "−", "-", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, bad
	}
	switch letter {
	case 'c':
		return Temperature(v), nil
	case 'f':
		return Temperature((v - zero) / 1.8), nil
	}
	return 0, bad
}
