// What the server puts in front of the service worker.
declare const VERSION: string;
declare const FILES: string[];
