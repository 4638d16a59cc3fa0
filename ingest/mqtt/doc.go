// Package mqtt owns the session with a broker outside the program.
//
// It guarantees that a message is acknowledged to the broker only after it is
// settled, so with a client id and a persistent session the broker keeps what
// arrives while the program is down; that a session starts with the broker absent
// and keeps trying, with a pause that has a floor and a cap, also against a broker
// that accepts and drops; that subscriptions are made anew after each connect, and
// what has left the configuration is unsubscribed; and that what is in flight is
// bounded: the handler never blocks the connection for long, and what finds no room
// is left unacknowledged and fetched again by a new connection.
//
// It cannot promise that for QoS 0, where a message that finds no room is gone: it
// is counted ([Health.Lost]).
package mqtt
