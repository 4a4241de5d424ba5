//! A program of the tests' that takes messages over HTTP, with behaviour that tests choose.

use std::collections::{BTreeMap, VecDeque};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use crate::wait::until;

/// How it answers one message.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Answer {
    /// With this status.
    Status(u16),
    /// It takes the message and says nothing for so long, then cuts the line.
    Silence(Duration),
}

/// A message that it was sent.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Post {
    /// Headers, names in small letters.
    pub headers: BTreeMap<String, String>,
    /// The body.
    pub body: String,
    /// How it was answered.
    pub answer: Answer,
}

/// A program that listens. It ends with the test.
pub struct Hook {
    /// Its port on loopback.
    pub port: u16,
    posts: Arc<Mutex<Vec<Post>>>,
    answers: Arc<Mutex<VecDeque<Answer>>>,
}

impl Hook {
    /// Answers 204 to everything, unless told.
    pub fn start() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let port = listener.local_addr().expect("an address").port();
        let this = Self { port, posts: Arc::default(), answers: Arc::default() };
        let (posts, answers) = (Arc::clone(&this.posts), Arc::clone(&this.answers));
        std::thread::spawn(move || {
            for line in listener.incoming() {
                let Ok(line) = line else { continue };
                // A client that goes is no matter.
                let _ = serve(line, &posts, &answers);
            }
        });
        this
    }

    /// Has the next messages answered so.
    pub fn answer(&self, answers: impl IntoIterator<Item = Answer>) {
        self.answers.lock().unwrap_or_else(PoisonError::into_inner).extend(answers);
    }

    /// What it was sent.
    pub fn posts(&self) -> Vec<Post> {
        self.posts.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Waits until it was sent so many.
    #[track_caller]
    pub fn wait_for(&self, count: usize, within: Duration) -> Vec<Post> {
        until(&format!("{count} messages have come"), within, || {
            let posts = self.posts();
            if posts.len() >= count { Ok(posts) } else { Err(format!("{}", posts.len())) }
        })
    }
}

fn serve(line: TcpStream, posts: &Mutex<Vec<Post>>, answers: &Mutex<VecDeque<Answer>>) -> std::io::Result<()> {
    let mut read = BufReader::new(line.try_clone()?);
    let mut write = line;
    let mut first = String::new();
    read.read_line(&mut first)?;
    let mut headers = BTreeMap::new();
    loop {
        let mut text = String::new();
        read.read_line(&mut text)?;
        let Some((name, value)) = text.trim().split_once(':') else { break };
        headers.insert(name.to_lowercase(), value.trim().to_owned());
    }
    let length = headers.get("content-length").and_then(|length| length.parse().ok()).unwrap_or(0);
    let mut body = vec![0; length];
    read.read_exact(&mut body)?;
    let answer = answers.lock().unwrap_or_else(PoisonError::into_inner).pop_front().unwrap_or(Answer::Status(204));
    let body = String::from_utf8(body).unwrap_or_default();
    posts.lock().unwrap_or_else(PoisonError::into_inner).push(Post { headers, body, answer });
    match answer {
        Answer::Status(code) => {
            write.write_all(format!("HTTP/1.1 {code} so\r\ncontent-length: 0\r\nconnection: close\r\n\r\n").as_bytes())
        }
        Answer::Silence(time) => {
            // The client is to give up first; it may do so sooner.
            write.set_read_timeout(Some(time))?;
            let _ = read.read(&mut [0]);
            Ok(())
        }
    }
}
