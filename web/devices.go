package web

import (
	"context"
	"net/http"
)

// deviceKey is where the guard leaves the id of the device that asks.
type deviceKey struct{}

// deviceOf is the id of the device that asks; "local" is the bench computer itself.
func deviceOf(r *http.Request) string {
	if id, ok := r.Context().Value(deviceKey{}).(string); ok {
		return id
	}
	return "local"
}

func withDevice(r *http.Request, id string) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), deviceKey{}, id))
}
