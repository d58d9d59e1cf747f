package web

import (
	"crypto/rand"
	"net/http"
	"net/url"
	"strings"
	"unicode"

	"chargewright/web/page"
)

// Every event says from which device it came: a word that is drawn for a device when it
// first asks for a page, until somebody names it ("tablet in bay 2"). It opens nothing
// and proves nothing: it is what the device says of itself.

const (
	hereCookie = "chargewright-here"

	longestDevice = 40 // characters
	drawnLetters  = 6  // of the word: 30 bits, enough for the devices of a workshop

	// heldDevice is the field in which a form that takes long keeps its device's name.
	heldDevice = "device"
)

// deviceOf is what the device that asks is called; "" when it keeps no cookies.
func deviceOf(r *http.Request) string {
	name, err := url.QueryUnescape(cookie(r, hereCookie))
	if err != nil || deviceName(name) != "" {
		return ""
	}
	return name
}

// deviceName says why a device cannot be called so; "" when it can.
func deviceName(name string) string {
	switch n := letters(name); {
	case strings.ContainsFunc(name, func(c rune) bool { return unicode.IsControl(c) || c == unicode.ReplacementChar }):
		return "A device's name has letters, digits and signs"
	case n > longestDevice:
		return "A device's name has 40 characters at most. Write a shorter one"
	}
	return ""
}

// setDevice names the device that asks.
func (s *Server) setDevice(w http.ResponseWriter, name string) {
	s.setCookie(w, hereCookie, url.QueryEscape(name), year)
}

// meet draws a word for a device that asks for a page and has no name.
func (s *Server) meet(w http.ResponseWriter, r *http.Request) {
	if r.Method == http.MethodGet && deviceOf(r) == "" {
		s.setDevice(w, "device-"+strings.ToLower(rand.Text()[:drawnLetters]))
	}
}

// nameDevice takes what a device is to be called from the page of views; nothing gives it
// a drawn word again. It says whether the form can go on.
func (s *Server) nameDevice(w http.ResponseWriter, r *http.Request) bool {
	if !r.PostForm.Has("device") {
		return true
	}
	name := strings.TrimSpace(r.PostForm.Get("device"))
	if wrong := deviceName(name); wrong != "" {
		s.showKeys(w, r, http.StatusUnprocessableEntity, name, page.Problems{{Field: "device", Text: wrong}})
		return false
	}
	s.setDevice(w, name)
	return true
}
