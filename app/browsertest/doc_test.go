// Package browsertest holds the tests of the pages in a real browser: every
// page at three widths in light and dark, with its pictures kept; the home
// check filled in and sent with script switched off; and axe-core on each page.
//
// The pictures go to the folder named by WEIGHBEAM_ARTEFACTS. Where chromium or
// npm is missing the tests skip and say so, and fail where CI is set.
package browsertest
